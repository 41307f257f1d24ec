"""How a command ends: its exit status, and the one line that says why."""

import atexit
import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

import click

from balltrack.errors import MeasureError
from balltrack.names import hides_letters, shown

ALL_MEASURED, WRONG_INPUT, SOME_FAILED, NONE_MEASURED, STOPPED = 0, 1, 3, 4, 130


class Commands(click.Group):
    """All commands of the program: what they are given can be shown, and what the system refuses is one line.

    A full disk, a name that is too long, no memory left: nothing that a program can mend, and no bug either.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Refuse a name that would break the one line in which it is told."""
        hidden = next((each for each in args if hides_letters(each)), None)
        if hidden is not None:
            ctx.fail(f"'{shown(hidden)}' holds a letter that cannot be shown, such as a line break; rename it")
        return super().parse_args(ctx, args)

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run, and end with a status."""
        atexit.register(gc.freeze)  # else Python, as it ends, looks through all that is loaded: a third of a second
        try:
            return super().main(*args, **extra)
        except OSError as error:
            name = f"{shown(str(error.filename))[:200]}: " if error.filename else ""
            _end(f"{name}{error.strerror or error}")
        except MemoryError:
            _end("there is not memory enough; close other programs")


def _end(words: str) -> None:
    """Say why on standard error, which may be full too, and end."""
    with suppress(OSError):
        click.echo(words, err=True)
    if (own := sys.__stdout__) is not None and sys.stdout is own:
        with suppress(OSError):
            own.close()  # Python would try once more to write what could not be written
    sys.exit(WRONG_INPUT)


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
