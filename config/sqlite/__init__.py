"""SQLite, with a fair queue of writers."""
