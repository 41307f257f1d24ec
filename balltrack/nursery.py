"""Where worker processes come from: on Linux each is a copy of one process that has loaded the program already.

To load it takes a second or two, and as long again for every worker that does so by itself. The process that is copied
does nothing else, so it can load while its parent still reads the lesson; and it has one thread, without which a copy
would be unsafe. Elsewhere libraries of the system do not bear being copied: each worker loads the program itself.
"""

import contextlib
import multiprocessing
import os
import signal
import sys
from collections.abc import Iterator
from multiprocessing.context import ForkServerContext, SpawnContext

COPIED = sys.platform == "linux"
# Each worker computes on one thread: clips side by side use the cores better than threads inside a clip.
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
# What clips are measured with, and what that asks for only once it is at work; but not onnxruntime, which begins a
# thread as soon as it is loaded.
LOADED = (
    "balltrack.batch.loaded",
    "click",
    "scipy.interpolate",
    "scipy.ndimage",
    "scipy.special",
)


def begin() -> None:
    """Let the program be loaded for workers to come, if it is not yet; returns at once. Any process may call it."""
    if COPIED:
        from multiprocessing import forkserver

        forkserver.set_forkserver_preload(list(LOADED))
        with _of_workers(), _interrupt_held():
            forkserver.ensure_running()


def context() -> ForkServerContext | SpawnContext:
    """How a worker is started; to be used in `born`."""
    return multiprocessing.get_context("forkserver") if COPIED else multiprocessing.get_context("spawn")


@contextlib.contextmanager
def born() -> Iterator[None]:
    """Processes started in the body compute on one thread and never see Ctrl-C, which reaches all of a terminal."""
    begin()
    with _of_workers(), _interrupt_held():
        yield


@contextlib.contextmanager
def _of_workers() -> Iterator[None]:
    """The environment of what is started in the body: one thread, unless the person has said otherwise.

    What is copied finds modules where this process does, and not in the folder that it happens to stand in.
    """
    wanted = {name: value for name, value in ONE_THREAD.items() if name not in os.environ}
    if COPIED:
        wanted |= {"PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "PYTHONSAFEPATH": "1"}
    before = {name: os.environ.get(name) for name in wanted}
    os.environ.update(wanted)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextlib.contextmanager
def _interrupt_held() -> Iterator[None]:
    """Deliver Ctrl-C only after the body, where the system can; what is started in it is born with it held."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
