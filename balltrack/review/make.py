"""The take-home review of a measured lesson, made again with all that belongs to it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.errors import MeasureError, RecordError
from balltrack.lesson import Lesson, load_lesson
from balltrack.lesson.settings import as_measured
from balltrack.records.alone import alone
from balltrack.records.atomic import write_atomic
from balltrack.records.camera_file import read_camera
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.table import Units, units_of
from balltrack.review.drawn_stills import lost_drawings
from balltrack.review.page import PAGE, write_review
from balltrack.review.pdf import Paper, page_pdf
from balltrack.review.reel import write_reel

PDF = "review.pdf"
PAPER: dict[Units, Paper] = {"us": "Letter", "metric": "A4"}  # what readers of these units usually print on


@dataclass(frozen=True, slots=True)
class Wish:
    """What a review shall hold."""

    units: Units | None = None  # None: those of the lesson's table
    pdf: bool = True
    clips: bool = True


@dataclass(frozen=True, slots=True)
class Made:
    """What was written, and words for the coach, one line each."""

    files: tuple[Path, ...]
    notices: tuple[str, ...]


def make_review(folder: Path, wish: Wish, on_clip: Callable[[int, int], None] = lambda done, total: None) -> Made:
    """Write results/review/ anew from lesson.toml and the records of a measured lesson.

    ``on_clip`` is called with how many clips are filmed, of how many.

    Raises
    ------
    MeasureError
        If the lesson is wrong, not measured yet or being measured just now, or results cannot be read or written.
    """
    lesson, results = as_measured(load_lesson(folder)), folder / "results"
    if not (results / "swings.jsonl").exists():
        raise RecordError(f"{folder} was not measured yet; measure it first: balltrack measure")
    with alone(results):  # nobody is measuring; films take too long to keep a person from correcting meanwhile
        swings, solved = read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")
    units, review = wish.units or _units_in(results), results / "review"
    notices = [*_notices(lesson, swings), *lost_drawings(lesson, swings, solved)]
    if wish.clips:
        notices += write_reel(review, lesson, swings, solved, units, on_clip)
    files = write_review(review, lesson, swings, solved, units)
    if wish.pdf:
        try:
            write_atomic(review / PDF, page_pdf((review / PAGE).read_text(encoding="utf-8"), PAPER[units]))
            files += (review / PDF,)
        except MeasureError as error:  # the page is there all the same
            notices.append(str(error))
    return Made(files, tuple(notices))


def _units_in(results: Path) -> Units:
    try:
        return units_of((results / "swings.csv").read_text(encoding="utf-8-sig"))
    except OSError:
        return "us"


def _notices(lesson: Lesson, swings: Sequence[Swing]) -> list[str]:
    """What the coach should know before handing it over."""
    known = {swing.swing for swing in swings}
    notices = [
        f'lesson.toml: [swings."{name}"] has notes, but there is no such swing; see the names in the review\'s table'
        for name in lesson.words.swing_notes
        if name not in known
    ]
    if any(swing.settings_hash != lesson.settings_hash for swing in swings):
        notices.append(
            "the numbers are of before lesson.toml was last changed; bring them up to date: balltrack measure"
        )
    return notices
