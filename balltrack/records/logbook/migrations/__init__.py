"""How the logbook's tables came to be, step by step. Alembic runs them; `logbook.open` calls it."""
