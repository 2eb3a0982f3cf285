"""File formats: one reader a format behind one contract, how texts and tables are laid out, several files as one."""
