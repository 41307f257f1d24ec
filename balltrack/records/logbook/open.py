"""Opening the logbook: where it is, brought up to date, and transactions that two programs can make at once."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError

from balltrack.errors import LogbookError

DATABASE_VARIABLE = "BALLTRACK_DATABASE"
WAIT_S = 30.0  # for another program that writes; adding a lesson takes far less than a second
PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700  # names of players, of children often: for this user's eyes
READER = "BEGIN"  # of a file: how a transaction opens
WRITER = "BEGIN IMMEDIATE"  # takes the lock at once: two that had read first could each wait for the other to end
_ONE_WRITER = 0x62616C6C  # "ball": the number of the lock that writers hold on a PostgreSQL server
_POSTGRESQL = ("postgresql", "postgres", "postgresql+psycopg")


@dataclass(frozen=True, slots=True, eq=False)
class Logbook:
    """An opened logbook. Each use of `reading` or `writing` is one transaction, undone whole if anything fails."""

    engine: Engine
    place: str  # for a person: the file, or the address without its password

    @property
    def is_file(self) -> bool:
        """Whether it lies on this machine, not on a server."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that only reads. Raises LogbookError where the database fails."""
        with _failures(self.place), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes, while no other does. Raises LogbookError where the database fails."""
        with _failures(self.place), self.engine.execution_options(opening=WRITER).begin() as connection:
            if not self.is_file:
                connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _ONE_WRITER})
            yield connection

    def rewrite(self) -> None:
        """Write the tables anew without what was deleted, so that nothing of it stays in the database's files."""
        command = "VACUUM" if self.is_file else "VACUUM (FULL, ANALYZE) players, lessons, clips, blocks, swings"
        alone = {"opening": ""} if self.is_file else {"isolation_level": "AUTOCOMMIT"}  # in no transaction
        with _failures(self.place), self.engine.execution_options(**alone).connect() as connection:
            connection.exec_driver_sql(command)


def default_file() -> Path:
    """Where the logbook lies by itself: in the person's data folder."""
    from platformdirs import user_data_path

    return user_data_path("balltrack", appauthor=False) / "logbook.sqlite"


@contextmanager
def open_logbook(database: str | None = None) -> Iterator[Logbook]:
    """Open the logbook, made and brought up to date where it is not, and close it afterwards.

    Parameters
    ----------
    database : str, optional
        A file, or an address such as ``postgresql://coach@server/logbook``. Where not given, what the environment's
        BALLTRACK_DATABASE says, else a file in the person's data folder.

    Raises
    ------
    LogbookError
        If the address is none, the database cannot be reached or written, or a newer balltrack has written it.
    """
    url = _url(database or os.environ.get(DATABASE_VARIABLE) or str(default_file()))
    if url.drivername == "sqlite":
        place = str(url.database)
        _private(Path(place))
    else:
        place = url.set(drivername="postgresql").render_as_string(hide_password=True)
    engine = _engine(url)
    try:
        logbook = Logbook(engine, place)
        _bring_up_to_date(logbook)
        yield logbook
    finally:
        engine.dispose()


def _url(database: str) -> URL:
    """Addresses as they are; anything else is a file's name."""
    if "://" not in database:
        return URL.create("sqlite", database=str(Path(database).expanduser().absolute()))
    try:
        url = make_url(database)
    except (ArgumentError, ValueError):
        url = URL.create("")
    if url.drivername in _POSTGRESQL:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername == "sqlite" and url.database and not url.query:
        return url
    raise LogbookError(
        f"the logbook cannot lie at an address that begins with {database.split('://')[0]}://; "
        "give a file, or postgresql://user@server/database"
    )


def _private(file: Path) -> None:
    """Make the file, if it is not there, so that only this user can read it."""
    try:
        if not file.parent.exists():
            file.parent.mkdir(mode=PRIVATE_FOLDER, parents=True)
        file.touch(PRIVATE_FILE, exist_ok=True)
    except OSError as error:
        raise LogbookError(
            f"the logbook {file} cannot be opened: {error.strerror or error}; give another file with --database"
        ) from None


def _engine(url: URL) -> Engine:
    if url.drivername != "sqlite":
        return create_engine(url)
    engine = create_engine(url, connect_args={"timeout": WAIT_S})

    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # the driver would begin and end transactions at moments of its own
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA secure_delete = ON")  # what is deleted is overwritten

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        if opening := connection.get_execution_options().get("opening", READER):
            connection.exec_driver_sql(opening)

    return engine


def _bring_up_to_date(logbook: Logbook) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", "balltrack.records.logbook:migrations")
    config.set_main_option("path_separator", "os")
    steps = ScriptDirectory.from_config(config)
    known = {step.revision for step in steps.walk_revisions()}
    with logbook.reading() as connection:
        at = MigrationContext.configure(connection).get_current_revision()
    if at == steps.get_current_head():
        return
    if at is not None and at not in known:
        raise LogbookError(f"the logbook {logbook.place} was written by a newer balltrack ({at}); update balltrack")
    with logbook.writing() as connection:  # whoever comes second finds it done
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


@contextmanager
def _failures(place: str) -> Iterator[None]:
    """Say in one line what a database says in many."""
    try:
        yield
    except DBAPIError as error:
        reason = next((line.strip() for line in str(error.orig).splitlines() if line.strip()), "no reason given")
        raise LogbookError(f"the logbook {place} cannot be used: {reason}; {_remedy(reason)}") from None


def _remedy(reason: str) -> str:
    if "locked" in reason:
        return "another program holds it; wait until that is done"
    if "not a database" in reason:
        return "give another file with --database"
    return "see that it can be reached and written, or give another with --database"
