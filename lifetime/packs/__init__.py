"""Cell and pack parameters: loading and checking of profiles, series and parallel scaling."""
