"""Small files that a person or a program wrote, read whole: never a pipe, never more than is sensible."""

import errno
import os
import stat
from pathlib import Path

MOST_BYTES = 64_000_000  # a lesson of thousands of swings writes a few million; more is no file of ours


def read_plain(path: Path, most_bytes: int = MOST_BYTES) -> bytes:
    """All bytes of a file.

    Raises
    ------
    OSError
        As the system says, or if it is no plain file (a pipe would wait for ever, a device never ends) or larger than
        ``most_bytes``.
    """
    # Not to wait is for pipes without a writer; Windows knows neither them nor the flag.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        told = os.fstat(handle)
        if not stat.S_ISREG(told.st_mode):
            raise OSError(errno.EINVAL, "it is no plain file")
        data = file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise OSError(errno.EFBIG, f"it has {told.st_size / 1e6:.0f} MB; {most_bytes / 1e6:g} MB are most")
    return data
