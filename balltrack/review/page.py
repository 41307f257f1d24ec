"""The lesson as one page that needs nothing but a browser, and the chart beside it as files."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack import __version__
from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson
from balltrack.records import wording
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing
from balltrack.records.table import DEPTH, DISTANCE, SPEED, Units
from balltrack.review.plan import plan_of
from balltrack.review.spray_chart import Scene, chart_png, chart_svg, draw_spray_chart, spots_of
from balltrack.review.summary import Summary, summarize
from balltrack.units import Floats


@dataclass(frozen=True, slots=True)
class MarkRow:
    name: str
    miss_px: str
    used: bool


@dataclass(frozen=True, slots=True)
class SwingRow:
    """One line of the table, ready to print."""

    number: int
    swing: Swing
    outcome: str
    exit_speed: str
    launch: str
    direction: str
    side: str
    flight: str
    depth: str
    carry: str
    over_fence: str


def write_review(
    folder: Path, lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera, units: Units
) -> tuple[Path, ...]:
    """Write index.html, spray_chart.svg and spray_chart.png. Raises RecordError where that cannot be."""
    figure = draw_spray_chart(scene_of(lesson, swings, units))
    svg = chart_svg(figure)
    files: dict[str, str | bytes] = {
        "spray_chart.svg": svg,
        "spray_chart.png": chart_png(figure),
        "index.html": lesson_page(lesson, swings, solved, units, svg),
    }
    for name, content in files.items():
        write_atomic(folder / name, content)
    return tuple(folder / name for name in files)


def scene_of(lesson: Lesson, swings: Sequence[Swing], units: Units) -> Scene:
    spots = spots_of(swings, units)
    return Scene(
        title=f"{lesson.player.name}: where the balls came down",
        bats=lesson.player.bats,
        plan=plan_of(lesson, [spot.place for spot in spots], units),
        blocks=tuple(block.name for block in lesson.blocks),
        block_titles=tuple(block.title for block in lesson.blocks),
        spots=spots,
    )


def lesson_page(lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera, units: Units, svg: str) -> str:
    """The page as HTML, whole in itself: styles and chart inside, no script, nothing loaded."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("balltrack.review", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    marks = _mark_rows(lesson, solved)
    return environment.get_template("lesson.html.j2").render(
        lesson=lesson,
        rows=[_row(number, swing, units) for number, swing in enumerate(swings, start=1)],
        total=summarize("Whole lesson", swings, units),
        blocks=_block_summaries(lesson, swings, units),
        chart=Markup(inline_svg(svg)),  # made here, not by a person
        marks=marks,
        marks_rms_px=f"{_rms(solved.residuals_px[[row.used for row in marks]]):.1f}",
        camera_warnings=solved.warnings,
        cautions=_cautions(swings),
        unit={"speed": SPEED[units].unit, "near": DEPTH[units].unit, "far": DISTANCE[units].unit},
        plus_minus=wording.PLUS_MINUS_MEANS,
        has_fence=lesson.fence is not None,
        version=__version__,
        found_by=" or ".join(sorted({wording.found_by(swing.detector) for swing in swings if swing.detector})),
    )


def inline_svg(svg: str) -> str:
    """The svg element alone, sized by the page."""
    element = svg[svg.index("<svg") :]
    head, rest = element.split(">", 1)
    return re.sub(r'\s(width|height)="[^"]*"', "", head) + ' role="img" aria-labelledby="chart-words">' + rest


def _row(number: int, swing: Swing, units: Units) -> SwingRow:
    return SwingRow(
        number=number,
        swing=swing,
        outcome=wording.outcome(swing),
        exit_speed=wording.exit_speed(swing, units),
        launch=wording.launch(swing),
        direction=wording.direction(swing),
        side=swing.field_side or wording.NOTHING,
        flight=wording.flight(swing),
        depth=wording.depth(swing, units),
        carry=wording.carry(swing, units),
        over_fence=wording.over_fence(swing),
    )


def _block_summaries(lesson: Lesson, swings: Sequence[Swing], units: Units) -> list[Summary]:
    of_block = {block.name: [swing for swing in swings if swing.block == block.name] for block in lesson.blocks}
    return [summarize(block.title, of_block[block.name], units) for block in lesson.blocks if of_block[block.name]]


def _mark_rows(lesson: Lesson, solved: SolvedCamera) -> list[MarkRow]:
    misses_px = np.hypot(*solved.residuals_px.T)
    return [
        MarkRow(mark.name, f"{miss_px:.1f}", mark.name not in solved.rejected)
        for mark, miss_px in zip(lesson.marks, misses_px, strict=True)
    ]


def _cautions(swings: Sequence[Swing]) -> list[tuple[str, str]]:
    """Each warning once, with the numbers of its swings."""
    about: dict[str, list[int]] = {}
    for number, swing in enumerate(swings, start=1):
        for warning in swing.warnings:
            about.setdefault(warning, []).append(number)
    return [(warning, ", ".join(map(str, numbers))) for warning, numbers in about.items()]


def _rms(residuals_px: Floats) -> float:
    return float(np.sqrt(np.mean(np.sum(residuals_px**2, axis=1))))
