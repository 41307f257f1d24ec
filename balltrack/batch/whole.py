"""A whole lesson: every clip measured, results kept clip by clip, what follows from all of them at the end.

The files of the clips are the truth: whatever a run has in hand when it is killed, the next one goes on from them, and
what follows from all clips is made from these files alone. So it is the same however often a run was interrupted.
"""

import os
from collections import Counter
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from balltrack import __version__
from balltrack.batch.done import ClipDone, RunClips, keep_picture, one_line
from balltrack.batch.drawers import Drawers
from balltrack.batch.kept import result_on_disk, setup_hash, still_valid, tidy
from balltrack.batch.side_by_side import run_clips
from balltrack.camera.solve import SolvedCamera
from balltrack.detect.network import Network
from balltrack.errors import RecordError
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.measure import ClipResult, measure_clip, measure_together
from balltrack.nursery import begin
from balltrack.records.alone import alone
from balltrack.records.basis_file import Made, basis_path, write_bases
from balltrack.records.camera_file import write_camera
from balltrack.records.corrections import NO_CORRECTIONS, Corrections, corrections_version, read_corrections
from balltrack.records.store import ResultStore
from balltrack.records.swing import Swing, swing_id
from balltrack.records.table import Units
from balltrack.setup import Setup, prepare

OnProgress = Callable[[int, int, ClipDone | None], None]


def _tell_nobody(done: int, total: int, last: ClipDone | None) -> None:
    pass


@dataclass(frozen=True, slots=True)
class Wish:
    """How a lesson is to be measured."""

    workers: int | None = None  # clips measured at the same time; None: as many as there are cores
    units: Units = "us"  # of the table and the review; the records are SI
    network: Network | None = None  # from ``load_network``; None: the ball is found by motion alone
    again: bool = False  # measure also what has not changed since it was measured
    run: RunClips = run_clips  # who measures the clips


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
    found_by: Counter[str]  # positions used in these flights, by what found them: motion, network, both
    stopped: bool  # by Ctrl-C
    kept: int = 0  # clips that had not changed since they were measured
    ends: Counter[str] = field(default_factory=Counter)  # each clip once: swing, none, problem, not reached


def measure_lesson(
    folder: Path,
    workers: int | None = None,
    units: Units = "us",
    on_progress: OnProgress = _tell_nobody,
    network: Network | None = None,
) -> LessonOutcome:
    """Measure what has changed of a lesson, on this machine; see `Wish` and `measure_as`."""
    return measure_as(folder, Wish(workers, units, network), on_progress)


def measure_as(folder: Path, wish: Wish, on_progress: OnProgress = _tell_nobody) -> LessonOutcome:
    """Measure all clips of a lesson into its results folder, but for those whose results still hold.

    Parameters
    ----------
    folder : Path
        With lesson.toml and clips/.
    wish : Wish
    on_progress : callable
        Called with the clips done, their total, and the last one done; first without a last one, with as many done as
        need not be measured again.

    Raises
    ------
    MeasureError
        If the lesson or its marks are wrong, it is being measured already, or the results cannot be written. A clip's
        own trouble is a problem of the outcome instead.
    """
    lesson = load_lesson(folder)
    if wish.run is run_clips:
        begin()  # the program is loaded for workers while the camera is solved
    setup = prepare(lesson, wish.network)
    with alone(folder / "results"):
        return _measure_all(setup, folder / "results", wish, on_progress)


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """What all steps of one run share."""

    setup: Setup
    setup_hash: str
    store: ResultStore

    @property
    def results(self) -> Path:
        return self.store.folder


def _measure_all(setup: Setup, results: Path, wish: Wish, on_progress: OnProgress) -> LessonOutcome:
    lesson, workers = setup.lesson, wish.workers or _cores()
    names = [clip.name for clip in lesson.clips]
    tidy(results, names)
    run = _Run(setup, setup_hash(setup), ResultStore(results, names))
    write_camera(results / "camera.json", setup.solved, lesson.marks)
    made = still_valid(lesson.clips, run.setup_hash, results, workers)
    todo = [clip for clip in lesson.clips if wish.again or clip.name not in made]
    kept, stopped = len(names) - len(todo), False
    on_progress(kept, len(names), None)
    # Where nothing is measured, processes cost more than they save; on a cluster this machine has other lessons to do.
    with Drawers(workers if todo and wish.run is run_clips else 1) as drawers:
        try:
            if len(todo) < workers:
                drawers.begin()
            for number, (each, its) in enumerate(_each_done(todo, run, wish.run, workers), start=kept + 1):
                made[each.clip.name] = its
                on_progress(number, len(names), each)
                if len(names) - number < workers:  # a core is free
                    drawers.begin()
        except KeyboardInterrupt:
            stopped = True
        run.store.write_swings(_swings_together(made, run))
        run.store.write_table(wish.units)
        from balltrack.review.page import write_review  # here, so that workers do not load what draws

        write_review(results / "review", lesson, run.store.swings, setup.solved, wish.units, drawers.draw)
    return _outcome(made, run, stopped, kept)


def _each_done(todo: Sequence[Clip], run: _Run, run_clips: RunClips, workers: int) -> Iterator[tuple[ClipDone, Made]]:
    """Measure clips, and keep the results of each as it is done."""
    corrections, versions = dict[str, Corrections](), dict[str, str]()
    for clip in todo:
        try:
            said = read_corrections(run.results, clip.name)
            versions[clip.name] = corrections_version(run.results, clip.name)
        except RecordError as error:  # costs its clip
            yield _keep(ClipDone(clip, None, one_line(error, clip)), "", run)
        else:
            corrections |= {} if said == NO_CORRECTIONS else {clip.name: said}
    readable = [clip for clip in todo if clip.name in versions]
    for done in run_clips(readable, _Corrected(run.setup, corrections), workers) if readable else ():
        yield _keep(done, versions[done.clip.name], run)


@dataclass(frozen=True, slots=True, eq=False)
class _Corrected:
    """Measures a clip with what a person put right in it. Goes to each worker once."""

    setup: Setup
    corrections: Mapping[str, Corrections]  # by clip name, where there are any

    def __call__(self, clip: Clip) -> ClipResult:
        return measure_clip(clip, self.setup, self.corrections.get(clip.name, NO_CORRECTIONS))


def _keep(measured: ClipDone, corrections: str, run: _Run) -> tuple[ClipDone, Made]:
    """Write one clip's results; where the run is killed before the bases are written, the clip is measured again."""
    each = keep_picture(measured, run.results)
    name, result = each.clip.name, each.result
    note = result.note if result else ""
    made = Made(each.content, run.setup_hash, corrections, each.problem, note, _found_by(result))
    found = (result.bases, result.settled, result.stood) if result else ((), (), None)
    run.store.write_tracks(name, result.tracks if result else ())
    write_bases(run.results / basis_path(name), *found, made if made.content else None)
    run.store.write_swings({name: result.swings if result else (_lost(each.clip, made.problem, run),)})
    return each, made


def _found_by(result: ClipResult | None) -> dict[str, int]:
    tracks = [track for _, track in result.tracks] if result else []
    return dict(Counter(by for track in tracks for by, used in zip(track.source, track.used, strict=True) if used))


def _swings_together(made: Mapping[str, Made], run: _Run) -> dict[str, Sequence[Swing]]:
    """The swings of the clips that are done, each corrected by what the others say."""
    clips = [clip for clip in run.setup.lesson.clips if clip.name in made]  # in order, so that all runs round alike
    measured = [result_on_disk(clip, run.results) for clip in clips if not made[clip.name].problem]
    together = measure_together(measured, run.setup.ground)
    lost = {clip.name: (_lost(clip, problem, run),) for clip in clips if (problem := made[clip.name].problem)}
    return {**lost, **{result.clip.name: result.swings for result in together}}


def _outcome(made: Mapping[str, Made], run: _Run, stopped: bool, kept: int) -> LessonOutcome:
    lesson = run.setup.lesson
    in_order = [(clip.name, made[clip.name]) for clip in lesson.clips if clip.name in made]
    swung = {swing.clip for swing in run.store.swings}
    return LessonOutcome(
        lesson=lesson,
        solved=run.setup.solved,
        results=run.results,
        swings=run.store.swings,
        notes=(*lesson.notices, run.setup.lens_words, *_clip_notes(in_order)),
        problems=tuple(f"{name}: {each.problem}" for name, each in in_order if each.problem),
        detector=run.setup.detector,
        found_by=sum((Counter(each.found_by) for _, each in in_order), Counter()),
        stopped=stopped,
        kept=kept,
        ends=Counter(_end(clip, made.get(clip.name), swung) for clip in lesson.clips),
    )


def _end(clip: Clip, made: Made | None, swung: Container[str]) -> str:
    if made is None:
        return "not reached"
    return "problem" if made.problem else "swing" if clip.name in swung else "none"


def _clip_notes(in_order: Sequence[tuple[str, Made]]) -> list[str]:
    """Each note once, before the clips that it is about."""
    about: dict[str, list[str]] = {}
    for name, each in in_order:
        if each.note:
            about.setdefault(each.note, []).append(name)
    return [f"{note} ({', '.join(names)})" for note, names in about.items()]


def _lost(clip: Clip, problem: str, run: _Run) -> Swing:
    """The record of a clip that could not be measured at all: number 0 stands for the clip itself."""
    return Swing(
        swing=swing_id(clip.name, 0),
        clip=clip.name,
        block=clip.block,
        outcome="not_measured",
        balltrack_version=__version__,
        settings_hash=run.setup.lesson.settings_hash,
        reason=problem,
    )


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
