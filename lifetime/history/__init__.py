"""Histories: time series of one source, read from files in blocks, checked, cleaned on request, in SI."""
