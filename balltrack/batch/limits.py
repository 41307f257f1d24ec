"""What one clip may cost: memory, time, and that it stays the file it was. So no file holds up a lesson."""

import contextlib
import faulthandler
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

from balltrack.errors import ClipPassing

# A 4K clip takes 0.6 GB, as one of 1080p does; 8K has four times the pixels of 4K.
MOST_MEMORY_BYTES = 6_000_000_000
# Honest clips took up to 40 s of computing for a megabyte (rendered 1080p, which compresses far better than what a
# phone films), and the shortest ones a few seconds on top. On a slow, busy computer ten times that is still honest.
LEAST_S, MOST_S_PER_MB = 600.0, 400.0
AGAIN_S = 1.0  # whoever catches the first alarm meets the next

Identity = tuple[int, int, int, int]


def bound_memory(most_bytes: int = MOST_MEMORY_BYTES) -> None:
    """Let this process take so much memory and no more, where the system can tell: on Linux. What asks for more gets
    an error, and nothing else on the computer is driven out of memory.
    """
    try:
        import resource
    except ImportError:  # Windows
        return
    hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
    most = most_bytes if hard == resource.RLIM_INFINITY else min(most_bytes, hard)
    with contextlib.suppress(ValueError, OSError):  # a system that knows the limit, but not this way
        resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def out_of_memory(error: Exception) -> bool:
    """Whether an error says that there was not memory enough. Libraries have no common way to say so."""
    words = ("Insufficient memory", "bad_alloc", "bad allocation", "Failed to allocate memory")
    return isinstance(error, MemoryError) or any(each in str(error) for each in words)


@contextlib.contextmanager
def one_clip(path: Path) -> Iterator[None]:
    """Measure one clip in the body, within its limits.

    Raises
    ------
    ClipPassing
        If it takes far too long for its size, or the file is replaced or changed meanwhile: what was found may then be
        half of one film and half of another.
    """
    before = _identity(path)
    try:
        with _in_time(path.name, before[2] / 1e6 if before else 0.0):
            yield
    except Exception:
        _check_same(path, before)  # that explains whatever went wrong
        raise
    _check_same(path, before)


def most_s(size_mb: float) -> float:
    """How long a clip of that size may take. [s]"""
    return LEAST_S + MOST_S_PER_MB * size_mb


def _identity(path: Path) -> Identity | None:
    """What changes when a file is replaced or written to; None where there is none."""
    try:
        told = path.stat()
    except OSError:
        return None
    return told.st_dev, told.st_ino, told.st_size, told.st_mtime_ns


def _check_same(path: Path, before: Identity | None) -> None:
    if before is not None and _identity(path) != before:
        raise ClipPassing(f"{path.name}: was replaced or changed while it was measured; measure again")


@contextlib.contextmanager
def _in_time(name: str, size_mb: float) -> Iterator[None]:
    """Raise where the body takes too long; where it does not even come back from a library, end the process."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        yield  # signals reach the main thread only
        return
    allowed_s = most_s(size_mb)

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise ClipPassing(
            f"{name}: took more than {allowed_s / 60:.0f} minutes, far too long for {size_mb:.1f} MB; it may be "
            "damaged: copy it from the phone again, or cut it to the swing"
        )

    before = signal.signal(signal.SIGALRM, stop)
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123  # a device, not a file
        faulthandler.dump_traceback_later(2 * allowed_s, exit=True, file=nowhere)
        signal.setitimer(signal.ITIMER_REAL, allowed_s, AGAIN_S)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
            faulthandler.cancel_dump_traceback_later()
            signal.signal(signal.SIGALRM, before)
