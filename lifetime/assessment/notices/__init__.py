"""Warnings and notes that travel with a result, one file a subject; each says value, range, effect and what to do."""
