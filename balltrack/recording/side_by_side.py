"""A long film looked through on all cores: stretches of a minute, each sought out in the file by itself."""

import contextlib
import multiprocessing
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import pairwise

import numpy as np

from balltrack.errors import VideoError
from balltrack.nursery import born, context
from balltrack.recording.look import Look, joined, look
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo
from balltrack.video.ends import ends_s

STRETCH_S = 60.0  # a stretch begins at the key frame before it: a second or so is decoded twice

_DIED = "the program died on it (damaged, or no memory left); copy it from the phone again"

OnProgress = Callable[[float, float], None]  # seconds of film looked through, and all


def look_through(info: ClipInfo, workers: int, on_progress: OnProgress) -> Look:
    """Look at a whole film, ``workers`` stretches at a time.

    Memory: what one stretch takes in each worker, and 10 kB here for a second of film.

    Raises
    ------
    VideoError
        If the film cannot be read.
    """
    edges_s = _edges_s(info, workers)
    looks: list[Look] = []
    total_s = float(edges_s[-1] - edges_s[0])
    on_progress(0.0, total_s)
    with _pool(min(workers, len(edges_s) - 1)) as pool:
        with born():
            waiting = [pool.submit(look, info, float(a), float(b)) for a, b in pairwise(edges_s)]
        for i, each in enumerate(waiting):
            try:
                looks.append(each.result())
            except BrokenProcessPool:
                raise VideoError(f"{info.path.name}: {_DIED}") from None
            on_progress(float(edges_s[i + 1] - edges_s[0]), total_s)
    return joined(looks)


def _edges_s(info: ClipInfo, workers: int) -> Floats:
    """A short film still gives each worker a stretch."""
    start_s, stop_s = ends_s(info)
    count = max(workers, int(np.ceil((stop_s - start_s) / STRETCH_S)))
    return np.linspace(start_s, stop_s, count + 1)


@contextlib.contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Single-threaded workers that Ctrl-C does not reach; ended at once where the body does not run through."""
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(workers, context(), initializer=_start_worker)
    try:
        yield pool
        pool.shutdown()
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for child in set(multiprocessing.active_children()) - others:
            child.terminate()
        raise


def _start_worker() -> None:
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
