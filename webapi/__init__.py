"""The service a team shares: database, API, pages, jobs; it may import ``lifetime``, never the other way round."""
