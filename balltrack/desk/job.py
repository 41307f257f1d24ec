"""Measuring the lesson in the background: a process of its own, so that it can be stopped and the page stays quick."""

import contextlib
import multiprocessing
import os
import queue
import signal
import threading
from dataclasses import dataclass, replace
from multiprocessing.context import SpawnProcess
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Event
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from balltrack.errors import MeasureError
from balltrack.lesson.load import load_lesson

if TYPE_CHECKING:
    from balltrack.batch import ClipDone

State = Literal["idle", "running", "stopping", "done", "stopped", "failed"]
STOP_S = 20.0  # a clip's result is written and the review drawn within; then the process is ended


@dataclass(frozen=True, slots=True)
class Progress:
    """How far measuring is."""

    state: State = "idle"
    done: int = 0
    total: int = 0
    last: str = ""  # the clip done last, and its trouble where it has any
    words: str = ""  # how it ended: what was measured, or the one line that says why not


class Job:
    """Measures one lesson folder, at most once at a time."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._progress = Progress()
        self._process: SpawnProcess | None = None
        self._news: Queue[Progress] | None = None
        self._stop: Event | None = None

    def start(self) -> Progress:
        """Begin, unless it is running already."""
        with self._lock:
            self._read()
            if self._process is None and (trouble := _trouble(self._folder)):
                self._progress = Progress("failed", words=trouble)
            elif self._process is None:
                context = multiprocessing.get_context("spawn")
                self._news = context.Queue()
                self._stop = context.Event()
                self._process = context.Process(target=_measure, args=(self._folder, self._news, self._stop))
                self._progress = Progress("running", words="Getting ready: the camera is solved from the marks.")
                self._process.start()
            return self._progress

    def progress(self) -> Progress:
        """How far it is now."""
        with self._lock:
            self._read()
            return self._progress

    def cancel(self) -> Progress:
        """Stop after the clips that are done; they are kept."""
        with self._lock:
            self._read()
            if self._process is not None and self._stop is not None and self._progress.state == "running":
                self._stop.set()
                self._progress = replace(self._progress, state="stopping", words="Stopping; what was done is kept.")
                if os.name == "posix" and self._process.pid is not None:
                    with contextlib.suppress(ProcessLookupError):
                        os.kill(self._process.pid, signal.SIGINT)
            return self._progress

    def close(self) -> None:
        """Stop and wait: the page goes."""
        self.cancel()
        process = self._process
        if process is not None:
            process.join(STOP_S)
            if process.is_alive():
                process.terminate()
                process.join()
            self.progress()

    def _read(self) -> None:
        """Take in what the process has said since, and whether it has ended."""
        if self._process is None or self._news is None:
            return
        ended = not self._process.is_alive()
        while True:
            try:
                news = self._news.get(timeout=0.2 if ended else 0.0)
            except queue.Empty:
                break
            stopping = self._progress.state == "stopping" and news.state == "running"
            self._progress = replace(news, state="stopping", words=self._progress.words) if stopping else news
        if ended:
            if self._progress.state in ("running", "stopping"):
                stopped = self._progress.state == "stopping"
                words = "Stopped; what was done is kept." if stopped else "Measuring ended without a word; try again."
                self._progress = replace(self._progress, state="stopped" if stopped else "failed", words=words)
            self._process.join()
            self._process.close()
            self._news.close()
            self._process = self._news = self._stop = None


def _trouble(folder: Path) -> str:
    """Why the lesson cannot be measured, where that shows at once; empty else."""
    try:
        load_lesson(folder)
    except MeasureError as error:
        return _one_line(error)
    return ""


def _one_line(error: MeasureError) -> str:
    return "; ".join(str(error).splitlines())


def _measure(folder: Path, news: "Queue[Progress]", stop: Event) -> None:
    """What the process does. Ctrl-C or ``stop`` ends it as Ctrl-C ends ``balltrack measure``.

    ``stop`` is for what the signal misses: it may come while the process is born, and not every system has it.
    """
    so_far = Progress("running")

    def tell(done: int, total: int, last: "ClipDone | None") -> None:
        nonlocal so_far
        name = "" if last is None else last.clip.name + (f": {last.problem}" if last.problem else "")
        so_far = Progress("running", done, total, name)
        news.put(so_far)
        if stop.is_set():
            raise KeyboardInterrupt

    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a parent in the background hands on to ignore it
        if stop.is_set():
            raise KeyboardInterrupt
        from balltrack.batch import measure_lesson
        from balltrack.detect.network import load_network

        outcome = measure_lesson(folder, on_progress=tell, network=load_network())
        known = sum(swing.outcome != "not_measured" for swing in outcome.swings)
        words = f"{known} of {len(outcome.swings)} swings measured or seen as a miss."
        state: State = "stopped" if outcome.stopped else "done"
        kept = "Stopped; what was done is kept. " if outcome.stopped else ""
        news.put(replace(so_far, state=state, words=kept + words))
    except MeasureError as error:
        news.put(replace(so_far, state="failed", words=_one_line(error)))
    except KeyboardInterrupt:  # before the first clip was begun
        news.put(replace(so_far, state="stopped", words="Stopped before the first clip was done."))
