"""A whole lesson: every clip measured, results kept clip by clip, what follows from all of them at the end."""

import functools
import os
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack import __version__
from balltrack.batch.side_by_side import ClipDone, keep_picture, run_clips
from balltrack.camera.solve import SolvedCamera
from balltrack.detect.network import Network
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.measure import ClipResult, Setup, measure_clip, measure_together, prepare
from balltrack.records.alone import alone
from balltrack.records.basis_file import basis_path, write_bases
from balltrack.records.camera_file import write_camera
from balltrack.records.corrections import read_corrections
from balltrack.records.store import ResultStore
from balltrack.records.swing import Swing, swing_id
from balltrack.records.table import Units
from balltrack.review.page import write_review

OnProgress = Callable[[int, int, ClipDone | None], None]


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
            found = (result.bases, result.settled, result.stood) if result else ((), (), None)
            write_bases(results / basis_path(each.clip.name), *found)
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


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
