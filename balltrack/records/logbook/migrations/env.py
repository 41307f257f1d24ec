"""What Alembic runs to bring a database up to date, inside the transaction that `logbook.open` has begun."""

from alembic import context

from balltrack.records.logbook.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,  # SQLite too undoes tables that were half made
)
context.run_migrations()
