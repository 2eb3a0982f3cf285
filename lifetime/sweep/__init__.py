"""Many candidates of one study: plans, runs that survive a stop, and what they show."""
