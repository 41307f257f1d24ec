"""How a command ends: its exit status, and the one line that says why."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from balltrack.errors import MeasureError

ALL_MEASURED, WRONG_INPUT, SOME_FAILED, NONE_MEASURED, STOPPED = 0, 1, 3, 4, 130


@contextmanager
def one_line(stopped: str = "Stopped.") -> Iterator[None]:
    """End with one line where a person can put something right, and with ``stopped`` at Ctrl-C."""
    try:
        yield
    except ImportError as error:
        if not any(library in str(error) for library in ("libGL", "libgthread", "libglib")):
            raise
        click.echo(
            f"OpenCV lacks a system library ({error}); on Debian or Ubuntu: sudo apt-get install libgl1 libglib2.0-0",
            err=True,
        )
        sys.exit(WRONG_INPUT)
    except MeasureError as error:
        click.echo(error, err=True)
        sys.exit(WRONG_INPUT)
    except KeyboardInterrupt:
        click.echo(stopped, err=True)
        sys.exit(STOPPED)
