"""One at a time: who measures a lesson or puts a swing right has its results folder alone."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from balltrack.errors import RecordError

PAUSE_S = 0.05


@contextlib.contextmanager
def alone(results: Path, wait_s: float = 0.0) -> Iterator[None]:
    """Hold a results folder, made where it is missing, against other programs and threads, where the system can.

    Raises
    ------
    RecordError
        If another holds it for longer than ``wait_s``, or the folder cannot be made.
    """
    try:
        results.mkdir(parents=True, exist_ok=True)
        handle = None if os.name == "nt" else os.open(results, os.O_RDONLY)
    except OSError as error:
        raise RecordError(f"{results} cannot be opened: {error.strerror or error}; free or unlock the folder") from None
    if handle is None:  # Windows locks no folders: there, one run a lesson is up to the person
        yield
        return
    try:
        _lock(handle, results, time.monotonic() + wait_s)
        yield
    finally:
        os.close(handle)  # lets go of the lock too


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
