"""Many lessons on a cluster: each measured as it would be alone, its records kept in the logbook and as Parquet.

Some lessons are under way at the same time, so that the workers have clips while one lesson is prepared or summed up.
A lesson that is wrong, or cannot be written, costs itself alone.
"""

import contextlib
import hashlib
import re
import tempfile
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack.batch.cluster import Cluster, run_on
from balltrack.batch.depot import Depot, is_address, put_file
from balltrack.batch.done import ClipDone, MeasureClip, RunClips
from balltrack.batch.whole import LessonOutcome, OnProgress, Wish, measure_as
from balltrack.errors import MeasureError, VideoError
from balltrack.lesson import Clip, load_lesson
from balltrack.lesson.filmed import first_filmed
from balltrack.records.logbook.entry import ClipEntry, LessonEntry
from balltrack.records.store import track_path
from balltrack.review.entry import entry_of
from balltrack.setup import STILL_S
from balltrack.video.frames import read_frames

LESSONS_AT_ONCE = 8  # of 60 clips each: enough for a hundred workers while one of them is summed up
LOOK_S = 0.5


@dataclass(frozen=True, slots=True)
class Keep:
    """Where records go beside each lesson's own results."""

    database: str | None = None  # a logbook, as `records.logbook.open` takes it
    parquet: str | None = None  # a folder or an address; one file a lesson


@dataclass(frozen=True, slots=True)
class LessonDone:
    """What became of one lesson."""

    place: str  # its folder or address
    outcome: LessonOutcome | None  # as far as it came; None where it could not be begun
    problem: str = ""  # one line; empty where all went well
    stopped: bool = False  # before its end, by Ctrl-C


def measure_lessons(
    places: Sequence[str], cluster: Cluster, wish: Wish, keep: Keep, on_progress: OnProgress
) -> tuple[LessonDone, ...]:
    """Measure what has changed of many lessons, in the order given.

    Parameters
    ----------
    places : sequence of str
        Folders, at the same path on all machines, or addresses of shared storage, as from `lesson_places`.
    cluster : Cluster
    wish : Wish
        How; the cluster takes the place of its ``run`` and its ``workers``.
    keep : Keep
    on_progress : callable
        Of all lessons together, as `measure_as`. A clip's name begins with its lesson's where there are several.

    Raises
    ------
    LogbookError
        If the logbook cannot be used, before anything is measured.
    """
    if keep.database:
        from balltrack.records.logbook.open import open_logbook

        with open_logbook(keep.database):
            pass
    night = _Night(cluster, wish, keep, _Tally(on_progress, len(places) > 1))
    with ThreadPoolExecutor(LESSONS_AT_ONCE) as pool:
        running = [pool.submit(night.measure, place) for place in places]
        try:
            _wait_for(running)
        except KeyboardInterrupt:
            cluster.stop.set()
            _wait_for(running)
    return tuple(each.result() for each in running)


def _wait_for(running: Sequence[Future[LessonDone]]) -> None:
    while wait(running, timeout=LOOK_S).not_done:  # by little waits Ctrl-C is heard
        pass


class _Tally:
    """The progress of all lessons together."""

    def __init__(self, on_progress: OnProgress, several: bool) -> None:
        self._on_progress, self._several = on_progress, several
        self._counts: dict[str, tuple[int, int]] = {}
        self._lock = threading.Lock()

    def of(self, place: str) -> OnProgress:
        """What one lesson is to tell its progress to."""

        def show(done: int, total: int, last: ClipDone | None) -> None:
            with self._lock:
                self._counts[place] = done, total
                all_done, all_total = (sum(counts) for counts in zip(*self._counts.values(), strict=True))
                if last and self._several:
                    last = replace(last, clip=replace(last.clip, name=f"{lesson_name(place)}/{last.clip.name}"))
                self._on_progress(all_done, all_total, last)

        return show


@dataclass(frozen=True, slots=True)
class _Night:
    """What all lessons share."""

    cluster: Cluster
    wish: Wish
    keep: Keep
    tally: _Tally

    def measure(self, place: str) -> LessonDone:
        """One lesson, from its place to its records; whatever is wrong with it is a word."""
        outcome: LessonOutcome | None = None
        try:
            if self.cluster.stop.is_set():
                return LessonDone(place, None, "not begun", stopped=True)
            with _at(place) as lesson:
                wish = replace(self.wish, run=lesson.run_on(self.cluster))
                outcome = measure_as(lesson.folder, wish, self.tally.of(place))
                lesson.put_back()
                if not outcome.stopped:
                    self._keep_records(lesson)
                    lesson.put_back()  # the id that the logbook gave it
            return LessonDone(place, outcome, stopped=outcome.stopped)
        except MeasureError as error:
            return LessonDone(place, outcome, " ".join(str(error).split()))
        except Exception as error:  # a fault of ours in one lesson must not take the night's others with it
            what = " ".join(f"{type(error).__name__}: {error}".split())
            return LessonDone(place, outcome, f"a fault of this program; please report it: {what}")

    def _keep_records(self, lesson: "_Lesson") -> None:
        if not (self.keep.database or self.keep.parquet):
            return
        entry = lesson.entry()
        if self.keep.database:
            from balltrack.records.logbook.add import add_lesson
            from balltrack.records.logbook.open import open_logbook

            with open_logbook(self.keep.database) as logbook:
                add_lesson(logbook, entry)
        if self.keep.parquet:
            from balltrack.records.logbook.lesson_file import lesson_parquet

            put_file(self.keep.parquet, parquet_name(lesson.place), lesson_parquet(entry))


@dataclass(frozen=True, slots=True)
class _Lesson:
    """A lesson as it stands in a folder of this machine: its own, or a mirror of shared storage."""

    place: str
    folder: Path
    depot: Depot | None = None

    def run_on(self, cluster: Cluster) -> RunClips:
        """Who measures its clips; the results of each are put back before the next is taken."""
        run = run_on(cluster, self.place if self.depot else "")
        return run if self.depot is None else _putting_back(run, self.depot, self.folder)

    def put_back(self) -> None:
        """What was written, to where the lesson lies."""
        if self.depot:
            self.depot.put_back(self.folder)

    def entry(self) -> LessonEntry:
        """For the logbook."""
        entry = entry_of(self.folder)
        if self.depot is None:
            return entry
        names = [clip.name for clip in entry.clips]
        clips = tuple(ClipEntry(*each) for each in zip(names, self.depot.fingerprints(names), strict=True))
        return replace(entry, clips=clips, address=self.place)


@contextlib.contextmanager
def _at(place: str) -> Iterator[_Lesson]:
    if not is_address(place):
        yield _Lesson(place, Path(place).resolve())  # workers may stand in another folder
        return
    with tempfile.TemporaryDirectory(prefix="balltrack-") as made:
        depot, folder = Depot(place), Path(made, "lesson")
        depot.mirror(folder)
        _fetch_first(depot, folder)
        yield _Lesson(place, folder, depot)


def _fetch_first(depot: Depot, folder: Path) -> None:
    """Bring the film that tells of all how they were filmed: the first that can be read, as if all were here."""
    lesson = load_lesson(folder)
    for count, clip in enumerate(lesson.clips, start=1):
        depot.fetch(clip.name, folder)
        with contextlib.suppress(VideoError):
            _, info = first_filmed(replace(lesson, clips=lesson.clips[:count]))
            frames = [frame.time_s for frame in read_frames(clip.path, 0.0, STILL_S, info=info)] if info else []
            if frames:
                return


def _putting_back(run: RunClips, depot: Depot, folder: Path) -> RunClips:
    def run_and_put_back(clips: Sequence[Clip], measure: MeasureClip, workers: int) -> Iterator[ClipDone]:
        for done in run(clips, measure, workers):
            yield done  # whoever asks for the next has kept this one
            depot.put_back(folder, (Path("results") / track_path(done.clip.name)).with_suffix("").as_posix())

    return run_and_put_back


def lesson_name(place: str) -> str:
    """What a person calls a lesson by its place: the last part of it."""
    return place.rstrip("/").replace("\\", "/").rpartition("/")[2]


def parquet_name(place: str) -> str:
    """The name of a lesson's Parquet file: always the same for one place, another for any other."""
    where = place if is_address(place) else str(Path(place).resolve())
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", lesson_name(where)).strip("-.") or "lesson"
    return f"{plain[:80]}-{hashlib.sha256(where.encode()).hexdigest()[:12]}.parquet"
