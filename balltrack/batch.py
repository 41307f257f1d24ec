"""Many clips: one process a clip, results kept clip by clip, one bad clip never ends a lesson."""

import contextlib
import functools
import multiprocessing
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack import __version__
from balltrack.camera.model import Camera
from balltrack.camera.solve import SolvedCamera
from balltrack.detect.network import Network
from balltrack.errors import CameraMoved, EditConflict, MeasureError, RecordError
from balltrack.flight.evidence import Setting
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.measure import ClipResult, Setup, clip_result, measure_clip, measure_together, prepare
from balltrack.records.alone import alone
from balltrack.records.atomic import write_atomic
from balltrack.records.basis_file import MEASURE_AGAIN, basis_path, read_bases, write_bases
from balltrack.records.camera_file import read_camera, write_camera
from balltrack.records.corrections import Fix, corrections_version, read_corrections, write_corrections
from balltrack.records.refit import Ground, settle_clip
from balltrack.records.store import ResultStore, read_swings
from balltrack.records.swing import Swing, swing_id
from balltrack.records.table import Units, units_of
from balltrack.review.page import write_review

# Each worker computes on one thread: clips side by side use the cores better than threads inside a clip.
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")

MOST_WAIT_S = 10.0  # for a correction of another tab; measuring takes longer

MeasureClip = Callable[[Clip], ClipResult]
OnProgress = Callable[[int, int, "ClipDone | None"], None]


@dataclass(frozen=True, slots=True)
class ClipDone:
    """What became of one clip: its result, or why there is none."""

    clip: Clip
    result: ClipResult | None
    problem: str  # one line; empty where there is a result
    picture_jpeg: bytes = b""  # of the problem, where one shows it


@dataclass(frozen=True, slots=True)
class LessonOutcome:
    """A measured lesson, as far as it came."""

    lesson: Lesson
    solved: SolvedCamera
    results: Path
    swings: tuple[Swing, ...]  # of this run, and of an earlier one where this one was stopped before a clip
    notes: tuple[str, ...]  # words for a person, one line each: about the folder, and about single clips
    problems: tuple[str, ...]  # clips that could not be measured, one line each
    detector: str  # what found the ball, as in the record
    found_by: Counter[str]  # positions used in this run's flights, by what found them: motion, network, both
    stopped: bool  # by Ctrl-C


def measure_lesson(
    folder: Path,
    workers: int | None = None,
    units: Units = "us",
    on_progress: OnProgress = lambda done, total, last: None,
    network: Network | None = None,
) -> LessonOutcome:
    """Measure all clips of a lesson into its results folder.

    Parameters
    ----------
    folder : Path
        With lesson.toml and clips/.
    workers : int, optional
        Clips measured at the same time; as many as there are cores where not given.
    units : Units
        For the table and the review; the records are SI.
    on_progress : callable
        Called with the clips done, their total, and the last one done; first with none done.
    network : Network, optional
        From ``load_network``; without one the ball is found by motion alone.

    Raises
    ------
    MeasureError
        If the lesson or its marks are wrong, it is being measured already, or the results cannot be written. A clip's
        own trouble is a problem of the outcome instead.
    """
    setup = prepare(load_lesson(folder), network)
    with alone(folder / "results"):
        return _measure_all(setup, folder / "results", workers or _cores(), units, on_progress)


def _measure_all(setup: Setup, results: Path, workers: int, units: Units, on_progress: OnProgress) -> LessonOutcome:
    lesson = setup.lesson
    store = ResultStore(results, [clip.name for clip in lesson.clips])
    write_camera(results / "camera.json", setup.solved, lesson.marks)
    done: dict[str, ClipDone] = {}
    stopped = False
    on_progress(0, len(lesson.clips), None)
    measure = functools.partial(_measure_corrected, setup=setup, results=results)
    try:
        for measured in run_clips(lesson.clips, measure, workers):
            each = keep_picture(measured, results)
            result = each.result
            swings = result.swings if result else (_lost(each, lesson.settings_hash),)
            write_bases(results / basis_path(each.clip.name), *((result.bases, result.settled) if result else ((), ())))
            store.write_clip(each.clip.name, swings, result.tracks if result else ())
            done[each.clip.name] = each
            on_progress(len(done), len(lesson.clips), each)
    except KeyboardInterrupt:
        stopped = True
    in_order = [done[clip.name] for clip in lesson.clips if clip.name in done]  # so that all runs round alike
    for result in measure_together([each.result for each in in_order if each.result], setup.ground):
        if result.flights:
            store.write_clip(result.clip.name, result.swings, result.tracks)
    store.write_table(units)
    outcome = _outcome(setup, store, done, stopped)
    write_review(results / "review", lesson, store.swings, setup.solved, units)
    return outcome


def _measure_corrected(clip: Clip, setup: Setup, results: Path) -> ClipResult:
    """With what a person put right. Raises RecordError where a file of corrections is wrong, which costs its clip."""
    return measure_clip(clip, setup, read_corrections(results, clip.name))


def correct_swing(folder: Path, swing: str, fix: Fix, seen: str) -> tuple[Swing, ...]:
    """Keep a person's word on one swing, and measure with it: records and table are written anew.

    The clip is not searched again: this takes a moment. The numbers are those that measuring again would give, but for
    rounding. `refresh_results` then brings the other swings, which learn from this one, and the review up to date.

    Parameters
    ----------
    folder : Path
        A measured lesson.
    swing : str
        Its id.
    fix : Fix
        All that is put right in it from now on.
    seen : str
        The version of the clip's corrections that the person saw: see ``records.corrections.corrections_version``.

    Returns
    -------
    tuple of Swing
        All swings of the lesson.

    Raises
    ------
    EditConflict
        If somebody else has corrected the clip meanwhile. Nothing is written.
    MeasureError
        If the lesson was changed since it was measured, or is being measured; if results cannot be read or written.
    """
    results = folder / "results"
    with alone(results, MOST_WAIT_S):
        lesson = load_lesson(folder)
        kept = {clip.name: kept_result(clip, lesson, results) for clip in lesson.clips}
        name, which = next(
            ((name, k) for name, each in kept.items() if each for k, s in enumerate(each.swings) if s.swing == swing),
            ("", -1),
        )
        clip = kept.get(name)
        if clip is None:
            raise RecordError(
                f"{swing}: lesson.toml has been changed since it was measured, or its clip; {MEASURE_AGAIN}"
            )
        if corrections_version(results, name) != seen:
            raise EditConflict(
                f"{name} was corrected elsewhere since this swing was opened; nothing was overwritten: open it again"
            )
        times_s = [basis.seen_s for basis in clip.bases]
        corrections = read_corrections(results, name).with_fix(times_s, which, fix, swing)
        write_corrections(results, name, corrections)
        return _settled_anew(lesson, results, kept, clip.clip)


def _settled_anew(lesson: Lesson, results: Path, kept: dict[str, ClipResult | None], clip: Clip) -> tuple[Swing, ...]:
    """Lay a clip's corrections over what was found in it, and write all that follows from it."""
    ground = _ground(lesson, read_camera(results / "camera.json").camera)
    before = kept[clip.name]
    bases = before.bases if before else ()
    settled = settle_clip(bases, read_corrections(results, clip.name), ground)
    anew = clip_result(clip, bases, settled)
    together = measure_together(
        [result for result in (kept | {clip.name: anew}).values() if result], ground, {clip.name}
    )
    store = ResultStore(results, [each.name for each in lesson.clips])
    write_bases(results / basis_path(clip.name), bases, settled)
    store.write_tracks(clip.name, anew.tracks)
    store.write_swings({result.clip.name: result.swings for result in together})
    store.write_table(units_in(results))
    return store.swings


def refresh_results(folder: Path) -> None:
    """After corrections, bring up to date what they changed by a little: the other swings, the review.

    Raises
    ------
    MeasureError
        If results cannot be read or written, or the lesson is being measured, which does all this in the end.
    """
    lesson, results = load_lesson(folder), folder / "results"
    before = read_swings(results / "swings.jsonl")
    solved = read_camera(results / "camera.json")
    kept = [kept_result(clip, lesson, results) for clip in lesson.clips]
    together = measure_together([each for each in kept if each], _ground(lesson, solved.camera))
    with alone(results, MOST_WAIT_S):
        if read_swings(results / "swings.jsonl") != before:
            return  # corrected again meanwhile: whoever did that will refresh
        store = ResultStore(results, [clip.name for clip in lesson.clips])
        store.write_swings({result.clip.name: result.swings for result in together if result.bases})
        store.write_table(units_in(results))
    drawn: tuple[Swing, ...] = ()
    while drawn != store.swings:  # drawing takes longer than a person should wait; again where others wrote meanwhile
        drawn = store.swings
        write_review(results / "review", lesson, drawn, solved, units_in(results))
        store = ResultStore(results, [clip.name for clip in lesson.clips])


def _ground(lesson: Lesson, camera: Camera) -> Ground:
    return Ground(Setting(camera, lesson.ball, lesson.air), lesson.fence, lesson.player.bats)


def kept_result(clip: Clip, lesson: Lesson, results: Path) -> ClipResult | None:
    """What an earlier run found in a clip; None where it was with other settings, or where there is nothing."""
    path = results / basis_path(clip.name)
    if not path.exists():
        return None
    bases, settled = read_bases(path)
    if any(basis.label.settings_hash != lesson.settings_hash for basis in bases):
        return None
    return clip_result(clip, bases, settled)


def units_in(results: Path) -> Units:
    """The reader's units, as the table has them."""
    try:
        return units_of((results / "swings.csv").read_text(encoding="utf-8-sig"))
    except OSError:
        return "us"


def _outcome(setup: Setup, store: ResultStore, done: dict[str, ClipDone], stopped: bool) -> LessonOutcome:
    lesson = setup.lesson
    in_order = [done[clip.name] for clip in lesson.clips if clip.name in done]
    tracks = [track for each in in_order if each.result for _, track in each.result.tracks]
    return LessonOutcome(
        lesson=lesson,
        solved=setup.solved,
        results=store.folder,
        swings=store.swings,
        notes=(*lesson.notices, setup.lens_words, *_clip_notes(in_order)),
        problems=tuple(f"{each.clip.name}: {each.problem}" for each in in_order if each.problem),
        detector=setup.detector,
        found_by=Counter(
            source for track in tracks for source, used in zip(track.source, track.used, strict=True) if used
        ),
        stopped=stopped,
    )


def _clip_notes(in_order: Sequence[ClipDone]) -> list[str]:
    """Each note once, before the clips that it is about."""
    about: dict[str, list[str]] = {}
    for each in in_order:
        if each.result and each.result.note:
            about.setdefault(each.result.note, []).append(each.clip.name)
    return [f"{note} ({', '.join(names)})" for note, names in about.items()]


def _lost(done: ClipDone, settings_hash: str) -> Swing:
    """The record of a clip that could not be measured at all: number 0 stands for the clip itself."""
    return Swing(
        swing=swing_id(done.clip.name, 0),
        clip=done.clip.name,
        block=done.clip.block,
        outcome="not_measured",
        balltrack_version=__version__,
        settings_hash=settings_hash,
        reason=done.problem,
    )


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
    """Keep the picture of a clip's problem, and say where it lies."""
    if not done.picture_jpeg:
        return done
    place = Path("review", "moved", *Path(done.clip.name).with_suffix(".jpg").parts[1:])
    write_atomic(results / place, done.picture_jpeg)
    return replace(done, problem=f"{done.problem}; results/{place.as_posix()} shows it", picture_jpeg=b"")


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


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
