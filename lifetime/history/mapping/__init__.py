"""From columns to quantities: which column is what, in which unit and with which sign, and what follows from them."""
