"""The only place where library and database meet: plain functions that take a session and hold the transaction."""
