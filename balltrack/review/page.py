"""The lesson as one page that needs nothing but a browser: what the player takes home."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from balltrack import __version__
from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson
from balltrack.records import wording
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing
from balltrack.records.table import DEPTH, DISTANCE, SPEED, Units
from balltrack.review.bands import Bands
from balltrack.review.block_row import BlockRow, block_row
from balltrack.review.changes import changes_of
from balltrack.review.charts import Chart, DrawCharts, charts_of
from balltrack.review.drawn_stills import drawn_stills
from balltrack.review.groups import groups_of, lesson_group
from balltrack.review.language import say, texts
from balltrack.review.own_best import own_best
from balltrack.review.reel import Reel, find_reel
from balltrack.review.swing_row import swing_row
from balltrack.review.takeaways import takeaways
from balltrack.review.tally import tally
from balltrack.units import Floats

if TYPE_CHECKING:
    from jinja2 import Template

PAGE = "index.html"
PLACED = "at_m "  # begins the name of a mark that is no named point


@dataclass(frozen=True, slots=True)
class MarkRow:
    name: str
    miss_px: str
    used: bool


def write_review(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    draw: DrawCharts = charts_of,
) -> tuple[Path, ...]:
    """Write index.html and each chart as .svg and .png. Raises RecordError where that cannot be."""
    charts = draw(lesson, swings, units)
    files: dict[str, str | bytes] = {}
    for chart in charts:
        files |= {f"{chart.name}.svg": chart.svg, f"{chart.name}.png": chart.png}
    reel = replace(find_reel(folder, swings, units), drawn=drawn_stills(lesson, swings, solved))
    files[PAGE] = lesson_page(lesson, swings, solved, units, charts, reel)
    for name, content in files.items():
        write_atomic(folder / name, content)
    return tuple(folder / name for name in files)


def lesson_page(
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    charts: Sequence[Chart],
    reel: Reel | None = None,
) -> str:
    """The page as HTML, whole in itself: styles and charts inside, no script, nothing loaded but films beside it."""
    from markupsafe import Markup

    marks = _mark_rows(lesson, solved)
    notes = lesson.words.swing_notes
    total, *blocks = block_rows(lesson, swings, units)
    return _template().render(
        t=texts(),
        say=say,
        lesson=lesson,
        day=_day(lesson),
        rows=[swing_row(n, swing, units, notes.get(swing.swing, "")) for n, swing in enumerate(swings, start=1)],
        total=total,
        blocks=blocks,
        charts={chart.name: chart for chart in charts},
        elements={chart.name: Markup(chart.element) for chart in charts},  # made here, not by a person
        reel=reel or Reel(),
        marks=marks,
        marks_rms_px=f"{_rms(solved.residuals_px[[row.used for row in marks]]):.1f}",
        camera_warnings=solved.warnings,
        cautions=_cautions(swings),
        unit={"speed": SPEED[units].unit, "near": DEPTH[units].unit, "far": DISTANCE[units].unit},
        plus_minus=texts()["plus_minus_means"],
        has_fence=lesson.fence is not None,
        takeaways=takeaways(lesson, swings, units),
        changes=changes_of(lesson, swings, units),
        ranges=ranges,
        foot_css=Markup(css_words(" · ".join(filter(None, [lesson.player.name, _day(lesson)])))),
        version=__version__,
        found_by=texts()["found_or"].join(
            sorted({wording.found_by(swing.detector, texts()) for swing in swings if swing.detector})
        ),
    )


def load() -> None:
    """Load what reckons for the page and lays it out, so that it need not be when the page is wanted."""
    import scipy.stats  # noqa: F401  # half a second

    _template()


@cache
def _template() -> "Template":
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("balltrack.review", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("lesson.html.j2")


def block_rows(lesson: Lesson, swings: Sequence[Swing], units: Units) -> list[BlockRow]:
    """The whole lesson, then each block that has swings."""
    bands = Bands()
    own = own_best(lesson_group(lesson, swings), bands)
    notes = {block.name: block.notes for block in lesson.blocks}
    return [block_row(tally(group, bands, own), units, notes.get(group.key, "")) for group in groups_of(lesson, swings)]


def ranges(numbers: Sequence[int]) -> list[tuple[int, int]]:
    """Runs of numbers, first and last: 1, 2, 3, 7 is 1 to 3 and 7 alone."""
    runs: list[tuple[int, int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return runs


def css_words(text: str) -> str:
    """A text as a string of a style sheet, every letter written as its number: nothing in it can end the string."""
    return '"' + "".join(f"\\{ord(letter):x} " for letter in text) + '"'


def _day(lesson: Lesson) -> str:
    """``30 May 2026``: the month in letters reads alike everywhere."""
    day = lesson.words.date
    if day is None:
        return ""
    return say("day", day=day.day, month=texts()["months"].split()[day.month - 1], year=day.year)


def _mark_rows(lesson: Lesson, solved: SolvedCamera) -> list[MarkRow]:
    misses_px = np.hypot(*solved.residuals_px.T)
    return [
        MarkRow(_mark_words(mark.name), f"{miss_px:.1f}", mark.name not in solved.rejected)
        for mark, miss_px in zip(lesson.marks, misses_px, strict=True)
    ]


def _mark_words(name: str) -> str:
    """A named point of the field, or a place of its own in metres: ``at_m [0, 5, 0]``."""
    _, is_place, place = name.partition(PLACED)
    return say("mark_at", place=place) if is_place else texts()[f"mark_{name}"]


def _cautions(swings: Sequence[Swing]) -> list[tuple[str, tuple[int, ...]]]:
    """Each warning once, with the numbers of its swings."""
    about: dict[str, list[int]] = {}
    for number, swing in enumerate(swings, start=1):
        for warning in swing.warnings:
            about.setdefault(warning, []).append(number)
    return [(warning, tuple(numbers)) for warning, numbers in about.items()]


def _rms(residuals_px: Floats) -> float:
    return float(np.sqrt(np.mean(np.sum(residuals_px**2, axis=1))))
