"""A person's word on the swings of a measured lesson: kept, measured with in a moment, written into the results."""

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.camera.model import Camera
from balltrack.errors import EditConflict, RecordError
from balltrack.flight.evidence import Setting
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.lesson.settings import as_measured
from balltrack.measure import ClipResult, added_basis, clip_result, measure_together
from balltrack.records.alone import alone
from balltrack.records.basis_file import MEASURE_AGAIN, basis_path, read_bases, write_bases
from balltrack.records.camera_file import read_camera
from balltrack.records.corrections import (
    SAME_SWING_S,
    Corrections,
    Fix,
    corrections_version,
    read_corrections,
    write_corrections,
)
from balltrack.records.refit import Basis, Ground, settle_clip
from balltrack.records.store import ResultStore, read_swings
from balltrack.records.swing import Swing, free_swing_id
from balltrack.records.table import Units, units_of

MOST_WAIT_S = 10.0  # for a correction of another tab; measuring takes longer


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
    with _opened(folder) as lesson:
        clip, which = lesson.find(swing)
        lesson.check(clip, seen)
        times_s = [basis.seen_s for basis in clip.bases]
        corrections = read_corrections(lesson.results, clip.clip.name).with_fix(times_s, which, fix, swing)
        return lesson.settle(clip, clip.bases, corrections)


def add_swing(folder: Path, clip_name: str, contact_s: float, seen: str) -> str:
    """Add a swing that the program did not see, by its contact; its ball can then be set frame by frame.

    Parameters
    ----------
    folder : Path
        A measured lesson.
    clip_name : str
        Such as ``clips/01-tee/001.mp4``.
    contact_s : float
        Clip time at which bat met ball. [s]
    seen : str
        As for `correct_swing`.

    Returns
    -------
    str
        The id of the new swing.

    Raises
    ------
    EditConflict, MeasureError
        As `correct_swing`; also where a swing is there already.
    """
    with _opened(folder) as lesson:
        clip = lesson.kept.get(clip_name)
        if clip is None or clip.stood is None:
            raise RecordError(f"{clip_name}: a swing can be added once its clip is measured; {MEASURE_AGAIN}")
        lesson.check(clip, seen)
        near = [basis for basis in clip.bases if abs(basis.seen_s - contact_s) < SAME_SWING_S]
        if near:
            raise RecordError(f"{near[0].label.swing} is there already, at {near[0].seen_s:.2f} s; open that one")
        name = free_swing_id(clip_name, [basis.label.swing for basis in clip.bases])
        corrections = read_corrections(lesson.results, clip_name).with_swing(name, contact_s)
        added = added_basis(clip.clip, lesson.lesson, clip.stood, corrections.verdicts[-1], clip.bases)
        lesson.settle(clip, sorted((*clip.bases, added), key=lambda basis: basis.seen_s), corrections)
        return name


def drop_swing(folder: Path, swing: str, seen: str) -> None:
    """Take a swing away again that a person added, and all that was put right in it; parameters as `correct_swing`.

    Raises
    ------
    EditConflict, MeasureError
        As `correct_swing`; also where the program saw that swing by itself.
    """
    with _opened(folder) as lesson:
        clip, which = lesson.find(swing)
        lesson.check(clip, seen)
        if not clip.bases[which].added:
            raise RecordError(f"{swing} was seen by the program; call it a miss, or leave it out")
        times_s = [basis.seen_s for basis in clip.bases]
        corrections = read_corrections(lesson.results, clip.clip.name).without(times_s, which)
        lesson.settle(clip, (*clip.bases[:which], *clip.bases[which + 1 :]), corrections)


@dataclass(frozen=True, slots=True, eq=False)
class _Opened:
    """A measured lesson whose results nobody else writes just now."""

    lesson: Lesson
    results: Path
    kept: dict[str, ClipResult | None]

    def find(self, swing: str) -> tuple[ClipResult, int]:
        """The clip of a swing, and the swing's place in it."""
        for clip in self.kept.values():
            for which, each in enumerate(clip.swings if clip else ()):
                if clip and each.swing == swing:
                    return clip, which
        raise RecordError(f"{swing}: lesson.toml has been changed since it was measured, or its clip; {MEASURE_AGAIN}")

    def check(self, clip: ClipResult, seen: str) -> None:
        """Refuse to change what is no longer as the person saw it."""
        name = clip.clip.name
        if corrections_version(self.results, name) != seen:
            raise EditConflict(
                f"{name} was corrected elsewhere since this swing was opened; nothing was overwritten: open it again"
            )

    def settle(self, clip: ClipResult, bases: Sequence[Basis], corrections: Corrections) -> tuple[Swing, ...]:
        """Keep a clip's corrections, lay them over what was found in it, and write all that follows from it."""
        name, results = clip.clip.name, self.results
        write_corrections(results, name, corrections)
        ground = _ground(self.lesson, read_camera(results / "camera.json").camera)
        settled = settle_clip(bases, read_corrections(results, name), ground)
        anew = clip_result(clip.clip, bases, settled, clip.stood)
        every = [each for each in (self.kept | {name: anew}).values() if each]
        together = measure_together(every, ground, {name})
        store = ResultStore(results, [each.name for each in self.lesson.clips])
        write_bases(results / basis_path(name), bases, settled, clip.stood)
        store.write_tracks(name, anew.tracks)
        store.write_swings({result.clip.name: result.swings for result in together})
        store.write_table(units_in(results))
        return store.swings


@contextlib.contextmanager
def _opened(folder: Path) -> Iterator[_Opened]:
    results = folder / "results"
    with alone(results, MOST_WAIT_S):
        lesson = as_measured(load_lesson(folder))
        yield _Opened(lesson, results, {clip.name: kept_result(clip, lesson, results) for clip in lesson.clips})


def refresh_results(folder: Path) -> None:
    """After corrections, bring up to date what they changed by a little: the other swings, the review.

    Raises
    ------
    MeasureError
        If results cannot be read or written, or the lesson is being measured, which does all this in the end.
    """
    lesson, results = as_measured(load_lesson(folder)), folder / "results"
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
        from balltrack.review.page import write_review  # here, so that workers do not load what draws

        write_review(results / "review", lesson, drawn, solved, units_in(results))
        store = ResultStore(results, [clip.name for clip in lesson.clips])


def _ground(lesson: Lesson, camera: Camera) -> Ground:
    return Ground(Setting(camera, lesson.ball, lesson.air), lesson.fence, lesson.player.bats)


def kept_result(clip: Clip, lesson: Lesson, results: Path) -> ClipResult | None:
    """What an earlier run found in a clip; None where it was with other settings, or where there is nothing.

    Give the lesson as `lesson.settings.as_measured` has it.
    """
    path = results / basis_path(clip.name)
    if not path.exists():
        return None
    bases, settled, stood = read_bases(path)
    hashes = {basis.label.settings_hash for basis in bases} | ({stood.settings_hash} if stood else set())
    if hashes - {lesson.settings_hash}:
        return None
    return clip_result(clip, bases, settled, stood)


def units_in(results: Path) -> Units:
    """The reader's units, as the table has them."""
    try:
        return units_of((results / "swings.csv").read_text(encoding="utf-8-sig"))
    except OSError:
        return "us"
