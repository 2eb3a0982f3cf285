"""Data cleaning on a stream of samples: bad values, order of the rows, spikes, gaps; only what a study asks for."""
