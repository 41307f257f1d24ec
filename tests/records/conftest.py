"""A real PostgreSQL server for the tests of the logbook, where one is installed: of this run only."""

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

NONE_INSTALLED = "no PostgreSQL server is installed here; on Debian or Ubuntu: apt-get install postgresql"
UNPRIVILEGED = "nobody"  # the server refuses to run as root


@dataclass(frozen=True, slots=True)
class Server:
    """Listens to a socket in its folder, to no network."""

    folder: Path

    def url(self, database: str) -> str:
        return f"postgresql://postgres@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """The address of a database that nobody has used."""
        import psycopg

        name = f"logbook_{uuid.uuid4().hex}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return self.url(name)


def _programs() -> Path | None:
    found = shutil.which("initdb")
    newest = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    program = Path(found).resolve() if found else newest[-1] if newest else None
    return program.parent if program else None


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    programs = _programs()
    if programs is None:
        pytest.skip(NONE_INSTALLED)
    folder = Path(tempfile.mkdtemp(prefix="balltrack-pg-"))  # short: the path of a socket may have 107 letters
    user = UNPRIVILEGED if os.geteuid() == 0 else None
    if user:
        shutil.chown(folder, user)

    def run(program: str, *words: str) -> None:
        command = [str(programs / program), "-D", str(folder / "data"), *words]
        subprocess.run(command, user=user, cwd=folder, check=True, stdout=subprocess.DEVNULL, timeout=120)

    run("initdb", "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8")
    run("pg_ctl", "-w", "-l", str(folder / "log"), "-o", f"-c listen_addresses='' -c fsync=off -k {folder}", "start")
    try:
        yield Server(folder)
    finally:
        run("pg_ctl", "-w", "-m", "immediate", "stop")
        shutil.rmtree(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A logbook that does not exist yet: a file, and a database on a server."""
    if request.param == "sqlite":
        return str(tmp_path / "logbook.sqlite")
    server: Server = request.getfixturevalue("server")
    return server.new_database()
