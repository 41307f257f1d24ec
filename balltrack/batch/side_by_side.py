"""Clips side by side: one process a clip, and one bad clip never ends the others."""

import contextlib
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack.errors import CameraMoved, MeasureError
from balltrack.lesson import Clip
from balltrack.measure import ClipResult
from balltrack.records.atomic import write_atomic
from balltrack.records.hand import remove

# Each worker computes on one thread: clips side by side use the cores better than threads inside a clip.
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")

MeasureClip = Callable[[Clip], ClipResult]


@dataclass(frozen=True, slots=True)
class ClipDone:
    """What became of one clip: its result, or why there is none."""

    clip: Clip
    result: ClipResult | None
    problem: str  # one line; empty where there is a result
    picture_jpeg: bytes = b""  # of the problem, where one shows it


def run_clips(clips: Sequence[Clip], measure: MeasureClip, workers: int) -> Iterator[ClipDone]:
    """Measure clips side by side, each in a process of its own kind, and yield each as it is done, in no set order.

    A clip on which the process itself dies (a decoder crash, no memory) is tried once more alone, and given up then.
    Stopping the iterator, or Ctrl-C, ends the processes.
    """
    unfinished = list(clips)
    for done in _run_together(clips, measure, workers):
        unfinished.remove(done.clip)
        yield done
    for clip in unfinished:
        alone = list(_run_together([clip], measure, 1))
        yield from alone or [ClipDone(clip, None, "the program died on this clip (damaged file, or no memory left)")]


def _run_together(clips: Sequence[Clip], measure: MeasureClip, workers: int) -> Iterator[ClipDone]:
    """Yield clips as they are done; end early, without the rest, where a process dies."""
    with _pool(min(workers, len(clips))) as pool:
        with _interrupt_held():  # a worker is born with it held, and so never sees Ctrl-C
            futures = {pool.submit(measure, clip): clip for clip in clips}
        for future in as_completed(futures):
            try:
                yield _done(futures[future], future)
            except BrokenProcessPool:
                return


def keep_picture(done: ClipDone, results: Path) -> ClipDone:
    """Keep the picture of a clip's problem or doubt, and say where it lies; an earlier run's is taken away.

    Raises RecordError where the results cannot be written.
    """
    _keep_at(results / _place("unmatched", done.clip), done.result.apart_jpeg if done.result else b"")
    place = _place("moved", done.clip)
    _keep_at(results / place, done.picture_jpeg)
    if not done.picture_jpeg:
        return done
    return replace(done, problem=f"{done.problem}; results/{place.as_posix()} shows it", picture_jpeg=b"")


def _place(kind: str, clip: Clip) -> Path:
    return Path("review", kind, *Path(clip.name).with_suffix(".jpg").parts[1:])


def _keep_at(path: Path, jpeg: bytes) -> None:
    if jpeg:
        write_atomic(path, jpeg)
    else:
        remove(path)


def _done(clip: Clip, future: Future[ClipResult]) -> ClipDone:
    try:
        return ClipDone(clip, future.result(), "")
    except CameraMoved as error:
        return ClipDone(clip, None, _one_line(error, clip), error.picture_jpeg)
    except MeasureError as error:
        return ClipDone(clip, None, _one_line(error, clip))
    except BrokenProcessPool:
        raise
    except Exception as error:  # a fault of ours in one clip must not take the lesson's other swings with it
        what = " ".join(f"{type(error).__name__}: {error}".split())
        return ClipDone(clip, None, f"a fault of this program, not of the clip; please report it: {what}")


def _one_line(error: MeasureError, clip: Clip) -> str:
    """The error without the clip's path, which stands beside it anyway."""
    words = " ".join(str(error).split())
    for name in (str(clip.path), clip.name, clip.path.name):
        words = words.removeprefix(f"{name}: ").removeprefix(f"{name} ")
    return words


@contextlib.contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Spawned single-threaded workers, ended at once where the body does not run to its end."""
    others = set(multiprocessing.active_children())
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update({name: value for name, value in ONE_THREAD.items() if before[name] is None})
    pool = ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=_start_worker)
    try:
        yield pool
        pool.shutdown()
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for child in set(multiprocessing.active_children()) - others:
            child.terminate()
        raise
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)


@contextlib.contextmanager
def _interrupt_held() -> Iterator[None]:
    """Deliver Ctrl-C only after the body, where the system can."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _start_worker() -> None:
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches all of a terminal; the parent ends the workers
    cv2.setNumThreads(1)
