"""The logbook: players, their lessons and swings in one database, SQLite on this machine or a PostgreSQL server."""
