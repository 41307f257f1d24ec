"""What CI runs, on every Python that is installed here: `nox`."""

import nox


@nox.session(python=["3.11", "3.12", "3.13"])
def checks(session: nox.Session) -> None:
    session.install("-e", ".[dev]")
    session.run("ruff", "check", ".")
    session.run("mypy")
    session.run("lint-imports")
    session.run("pytest", "-q", "-n", "2", *session.posargs)
