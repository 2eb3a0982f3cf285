"""From a history to what wears a cell: time at state, cycles, and what a whole day makes of them."""
