"""Clips side by side on this machine: worker processes, each with one clip at a time, so that a crash costs one clip.

Each worker has a pipe of its own. So it is known which clip a process died on: that one is tried again, the others go
on undisturbed.

Workers are started together. What they share of a lesson, a picture of the field among it, is more than a pipe holds:
it is sent only to who has said that it listens, so that nobody waits for a start.
"""

import contextlib
import gc
import pickle
import signal
from collections import Counter, deque
from collections.abc import Iterator, Sequence
from multiprocessing.connection import Connection, wait
from typing import cast

from balltrack.batch.done import MOST_TRIES, ClipDone, MeasureClip, given_up, measured_or_not
from balltrack.batch.limits import bound_memory
from balltrack.errors import MeasureError
from balltrack.lesson import Clip
from balltrack.nursery import born, context

MOST_STILLBORN = 5  # workers in a row that end before their first clip: then no other will do better
PATIENCE_S = 5.0  # for a worker that has been told to end


def run_clips(clips: Sequence[Clip], measure: MeasureClip, workers: int) -> Iterator[ClipDone]:
    """Measure clips side by side, and yield each as it is done, in no set order.

    A clip on which a process itself dies (a decoder crash, no memory) is tried once more after the others, and given
    up then. Stopping the iterator, or Ctrl-C, ends the processes.

    Raises
    ------
    MeasureError
        If no process can be started.
    """
    waiting, deaths, stillborn = deque(clips), Counter[str](), 0
    with _crew(measure, workers) as crew:
        while crew.hand_out(waiting):
            for worker in crew.heard():
                clip, worker.clip = worker.clip, None
                done = worker.answer()
                if done is not None:
                    stillborn = 0
                    crew.hand_out(waiting)  # before whoever asked looks at what is done
                    yield done
                elif worker.ended:
                    crew.let_go(worker)
                    if clip is None:
                        stillborn += 1
                        _check_born(stillborn)
                        continue
                    deaths[clip.name] += 1
                    if deaths[clip.name] < MOST_TRIES:
                        waiting.append(clip)
                    else:
                        yield given_up(clip)


class _Worker:
    """A process, and the clip that it has in hand."""

    def __init__(self, measure: bytes) -> None:
        self._measure = measure
        self.pipe, theirs = context().Pipe()
        self.process = context().Process(target=_serve, args=(theirs,), daemon=True)
        self.clip: Clip | None = None
        self.ready = self.ended = False
        try:
            with born():
                self.process.start()
        except (OSError, EOFError) as error:
            raise MeasureError(f"no worker process can be started ({error}); is there memory left?") from None
        theirs.close()

    def give(self, clip: Clip) -> bool:
        """Hand it a clip; False where it has died meanwhile, which will be heard."""
        try:
            self.pipe.send(clip)
        except OSError:
            return False
        self.clip = clip
        return True

    def answer(self) -> ClipDone | None:
        """What it says: a clip is done; or None, when it is ready for its first one or has ended."""
        try:
            done = self.pipe.recv()
            if not self.ready:
                self.pipe.send_bytes(self._measure)
        except (EOFError, OSError):
            self.ended = True
            return None
        self.ready = True
        return cast("ClipDone | None", done)


class _Crew:
    """Workers: as many as there is work for, a new one for each that dies."""

    def __init__(self, measure: MeasureClip, most: int) -> None:
        self._measure, self._most = pickle.dumps(measure), most
        self._workers: list[_Worker] = []

    def hand_out(self, waiting: deque[Clip]) -> bool:
        """Give each idle worker a clip; whether there is anything left to wait for."""
        busy = sum(worker.clip is not None for worker in self._workers)
        while len(self._workers) < min(self._most, busy + len(waiting)):
            self._workers.append(_Worker(self._measure))
        for worker in self._workers:
            idle = worker.ready and not worker.ended and worker.clip is None
            if waiting and idle and worker.give(waiting[0]):
                waiting.popleft()
        return bool(waiting) or any(worker.clip for worker in self._workers)

    def heard(self) -> list[_Worker]:
        """Wait until some worker says something, or ends."""
        heard = wait([worker.pipe for worker in self._workers])
        return [worker for worker in self._workers if worker.pipe in heard]

    def let_go(self, worker: _Worker) -> None:
        """Wait for the end of a worker that has ended, or is told to."""
        self._workers.remove(worker)
        worker.pipe.close()
        worker.process.join(PATIENCE_S)
        if worker.process.is_alive():
            worker.process.kill()
            worker.process.join()
        worker.process.close()

    def end(self, at_once: bool) -> None:
        """Let all go; ``at_once``: out of their work."""
        for worker in self._workers:
            if at_once:
                worker.process.terminate()
            worker.pipe.close()
        for worker in list(self._workers):
            self.let_go(worker)


@contextlib.contextmanager
def _crew(measure: MeasureClip, most: int) -> Iterator[_Crew]:
    """Workers that are ended at once where the body does not run to its end."""
    crew = _Crew(measure, most)
    try:
        yield crew
    except BaseException:
        crew.end(at_once=True)
        raise
    crew.end(at_once=False)


def _check_born(stillborn: int) -> None:
    if stillborn >= MOST_STILLBORN:
        raise MeasureError(
            f"{stillborn} worker processes ended as soon as they were started; is there memory left? "
            'A program that starts them needs its own work under: if __name__ == "__main__"'
        )


def _serve(pipe: "Connection[ClipDone | None, Clip]") -> None:
    """A worker's life: what to do with a clip comes in, then clips, and what became of them goes out, until the other
    end is closed."""
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches all of a terminal; the parent ends the workers
    cv2.setNumThreads(1)
    bound_memory()
    with contextlib.suppress(EOFError, OSError):  # the parent has gone
        pipe.send(None)
        measure = cast(MeasureClip, pickle.loads(pipe.recv_bytes()))
        gc.freeze()  # what is loaded now stays: no use in looking through it after each clip
        while True:
            pipe.send(measured_or_not(pipe.recv(), measure))
