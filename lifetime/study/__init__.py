"""The study file: its schema, and how it is read with every fault at once."""
