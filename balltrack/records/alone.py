"""One at a time: who measures a lesson or puts a swing right has its results folder alone."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from balltrack.errors import RecordError
from balltrack.names import shown

PAUSE_S = 0.05


@contextlib.contextmanager
def alone(results: Path, wait_s: float = 0.0) -> Iterator[None]:
    """Hold a results folder, made where it is missing, against other programs and threads, where the system can.

    Raises
    ------
    RecordError
        If another holds it for longer than ``wait_s``, the folder cannot be made, or a link in it leads out of it.
    """
    try:
        refuse_links_out(results)
        results.mkdir(parents=True, exist_ok=True)
        handle = None if os.name == "nt" else os.open(results, os.O_RDONLY)
    except (OSError, RuntimeError) as error:  # the latter of links in a circle
        why = getattr(error, "strerror", None) or error
        raise RecordError(f"{results} cannot be opened: {why}; free or unlock the folder") from None
    if handle is None:  # Windows locks no folders: there, one run a lesson is up to the person
        yield
        return
    try:
        _lock(handle, results, time.monotonic() + wait_s)
        yield
    finally:
        os.close(handle)  # lets go of the lock too


def refuse_links_out(results: Path) -> None:
    """Raise a RecordError where writing into a results folder would write, or tidying delete, somewhere else.

    A lesson folder may come from anybody. A link to a single file does no harm: writing puts a file in its place.
    """
    below = [Path(parent) / name for parent, names, _ in os.walk(results) for name in names]
    for folder, home in [(results, results.parent), *((each, results) for each in below)]:
        if folder.is_symlink() and not folder.resolve().is_relative_to(home.resolve()):
            where = shown(str(folder.relative_to(results.parent)))
            raise RecordError(f"{where} is a link that leads out of {home.name or home}; put a folder there instead")


def _lock(handle: int, results: Path, until_s: float) -> None:
    import fcntl

    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until_s:
                raise RecordError(
                    f"{results.resolve().parent.name} is being measured just now; wait until that is done"
                ) from None
            time.sleep(PAUSE_S)
        except OSError:  # a file system without locks
            return
        else:
            return
