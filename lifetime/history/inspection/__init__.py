"""Data checks: what a file or a stream of samples contains, and which findings follow."""
