"""Exit speed against launch, over lines of equal carry for this ball in this air."""

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from balltrack.lesson import Lesson
from balltrack.records.swing import FlightKind, Swing
from balltrack.records.table import DISTANCE, SPEED, Units
from balltrack.records.wording import NINE_IN_TEN
from balltrack.review.axes import plain_axes
from balltrack.review.bands import FLIGHTS, Bands
from balltrack.review.flown import Chart, carry_chart
from balltrack.review.labels import number_marks
from balltrack.review.language import say
from balltrack.review.numbered import Numbered, numbered
from balltrack.review.style import (
    FAINT,
    INK,
    PAPER,
    SMALL_PT,
    SOFT,
    TEXT_PT,
    TINT,
    Frame,
    dot,
    framed,
    looks_of,
    marker_pt,
)
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PICTURE_PT = 318.0
CARRIES_PT = 26.0  # room at the right for what the curves mean
APART_PT = 10.0  # between two of them
GRID = 41  # hits each way: finer changes no line by its own width
CARRY_STEP: dict[Units, float] = {"us": 50.0, "metric": 20.0}
SPEED_STEP: dict[Units, float] = {"us": 10.0, "metric": 20.0}
LAUNCH_STEP_DEG = 10.0
LEAST_SPAN_STEPS = 3  # few swings much alike still get a picture of this many steps
USUAL_SPEED_MPS = (22.0, 42.0)  # shown where nothing was measured: 49 to 94 mph (common practice, no source)
Span = tuple[float, float]


def draw_exit_launch_chart(
    lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands | None = None
) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state)."""
    bands = bands or Bands()
    hits = _hits(swings)
    looks = looks_of(lesson, swings)
    key = [look for name, look in looks.items() if any(each.swing.block == name for each in hits)]
    frame = Frame(say("exit_launch_title", player=lesson.player.name), key, _note(lesson, hits, units))
    figure, box = framed(frame, PICTURE_PT)
    axes = plain_axes(figure, box, say("axis_exit_speed", unit=SPEED[units].unit), say("exit_launch_axis"), CARRIES_PT)
    axes.grid(False)
    speeds, launches = _spans(hits, units)
    axes.set_xlim(*speeds)
    axes.set_ylim(*launches)
    _draw_bands(axes, bands, hits)
    contact_m = median([each.swing.contact_m[2] for each in hits if each.swing.contact_m] or [0.0]) or None
    grid_mps = np.linspace(*speeds, GRID) * SPEED[units].si_per_unit
    _draw_carries(axes, carry_chart(lesson, grid_mps, np.linspace(*launches, GRID), contact_m), units)
    size_pt = marker_pt(len(hits))
    for each in hits:
        _draw_hit(axes, each, units, len(hits))
        mark = dot(looks[each.swing.block], not _poor(each), size_pt)
        mark.set_data(*([value] for value in _place(each, units)))
        mark.set_zorder(6)
        axes.add_artist(mark)
    order = sorted(hits, key=lambda each: -(each.swing.exit_speed_mps or 0.0))
    number_marks(axes, np.array([_place(each, units) for each in order]), [each.number for each in order], size_pt)
    if not hits:
        axes.text(0.5, 0.5, say("exit_launch_none"), transform=axes.transAxes, ha="center", fontsize=TEXT_PT + 1)
    return figure


def words_of_exit_launch_chart(
    lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands | None = None
) -> str:
    """What the chart shows, for who cannot see it."""
    hits = _hits(swings)
    if not hits:
        return say("exit_launch_words_none")
    counts = _counts(hits, bands or Bands())
    named = ", ".join(say(f"hits_{kind}", count=len(each)) for kind, each in counts if each)
    best = max(hits, key=lambda each: each.swing.exit_speed_mps or 0.0)
    speed, launch = _place(best, units)
    hardest = {"number": best.number, "speed": f"{speed:.0f}", "unit": SPEED[units].unit, "launch": f"{launch:.0f}"}
    words = (say("exit_launch_words", count=len(hits), kinds=named), say("exit_launch_words_best", **hardest))
    return " ".join((*words, say("exit_launch_words_curves")))


def _hits(swings: Sequence[Swing]) -> tuple[Numbered, ...]:
    return tuple(each for each in numbered(swings) if each.swing.outcome == "measured")


def _poor(each: Numbered) -> bool:
    return each.swing.quality == "poor"


def _place(each: Numbered, units: Units) -> tuple[float, float]:
    return (each.swing.exit_speed_mps or 0.0) / SPEED[units].si_per_unit, each.swing.launch_deg or 0.0


def _note(lesson: Lesson, hits: Sequence[Numbered], units: Units) -> str:
    curves = "exit_launch_curves_wind" if np.hypot(*lesson.air.wind_mps) > 0 else "exit_launch_curves"
    words = [say(curves, unit=DISTANCE[units].unit, density=f"{lesson.air.density_kg_m3:.2f}")]
    words += [say("exit_launch_fence")] if lesson.fence is not None else []
    words += [say("exit_launch_crosses")]
    words += [say("hollow")] if any(_poor(each) for each in hits) else []
    return " ".join(words)


def _spans(hits: Sequence[Numbered], units: Units) -> tuple[Span, Span]:
    """Exit speeds (reader's unit) and launches [°] that hold every swing, in whole steps."""
    places = np.array([_place(each, units) for each in hits])
    usual = np.array(USUAL_SPEED_MPS) / SPEED[units].si_per_unit
    speeds = places[:, 0] if len(hits) else usual
    launches = places[:, 1] if len(hits) else np.array([0.0, 40.0])
    return (
        _whole_steps(float(speeds.min()), float(speeds.max()), SPEED_STEP[units]),
        _whole_steps(min(float(launches.min()), 4.0), max(float(launches.max()), 35.0), LAUNCH_STEP_DEG),
    )


def _whole_steps(low: float, high: float, step: float) -> Span:
    """The span in whole steps, with a fifth of a step free around every value."""
    low, high = np.floor(low / step - 0.2) * step, np.ceil(high / step + 0.2) * step
    lacks = max(LEAST_SPAN_STEPS - round((high - low) / step), 0)
    return float(low - step * (lacks // 2)), float(high + step * (lacks - lacks // 2))


def _counts(hits: Sequence[Numbered], bands: Bands) -> list[tuple[FlightKind, list[int]]]:
    kinds = {each.number: bands.flight(each.swing.launch_deg or 0.0) for each in hits}
    return [(kind, [number for number, found in kinds.items() if found == kind]) for kind in FLIGHTS]


def _draw_bands(axes: "Axes", bands: Bands, hits: Sequence[Numbered]) -> None:
    """Ground ball, line drive, fly ball, pop-up: every other one tinted, named at the left with its swings."""
    low, high = axes.get_ylim()
    edges = [low, bands.ground_ball_deg, bands.line_drive_deg, bands.fly_ball_deg, max(high, bands.fly_ball_deg)]
    for i, (kind, numbers) in enumerate(_counts(hits, bands)):
        bottom, top = max(edges[i], low), min(edges[i + 1], high)
        if top - bottom < 0.03 * (high - low):
            continue
        if i % 2:
            axes.axhspan(bottom, top, facecolor=TINT, edgecolor="none", zorder=0)
        axes.annotate(
            say(f"band_{kind}", count=len(numbers)),
            (0.0, top),
            xycoords=("axes fraction", "data"),
            xytext=(4, -3),
            textcoords="offset points",
            va="top",
            fontsize=SMALL_PT,
            color=SOFT,
            bbox={"facecolor": TINT if i % 2 else PAPER, "edgecolor": "none", "pad": 1.0},
            zorder=3,
        )


def _draw_carries(axes: "Axes", chart: Chart, units: Units) -> None:
    speeds = chart.speed_mps / SPEED[units].si_per_unit
    carries = chart.carry_m / DISTANCE[units].si_per_unit
    step = CARRY_STEP[units]
    levels = np.arange(step, float(carries.max()), step)
    if len(levels):
        axes.contour(speeds, chart.launch_deg, carries, levels, colors=FAINT, linewidths=0.8, zorder=1)
        _say_carries(axes, chart.launch_deg, carries[:, -1], levels, DISTANCE[units].unit)
    if chart.over_fence_m is not None and chart.over_fence_m.min() < 0 < chart.over_fence_m.max():
        over = chart.over_fence_m
        axes.contour(speeds, chart.launch_deg, over, [0.0], colors=INK, linewidths=1.8, linestyles="--", zorder=2)


def _say_carries(axes: "Axes", launch_deg: Floats, carries: Floats, levels: Floats, unit: str) -> None:
    """What each curve means, at the right where it leaves the picture and no mark can hide it."""
    rising = slice(0, int(np.argmax(carries)) + 1)
    per_degree_pt = axes.get_window_extent().height / np.ptp(axes.get_ylim())
    last = -np.inf
    for level in levels[levels > carries[0]]:
        launch = float(np.interp(level, carries[rising], launch_deg[rising]))
        if (launch - last) * per_degree_pt >= APART_PT:
            _beside(axes, f"{level:.0f}", launch)
            last = launch
    axes.annotate(
        say("exit_launch_carry", unit=unit),
        (1.0, 1.0),
        xycoords="axes fraction",
        xytext=(CARRIES_PT - 4, 6),
        textcoords="offset points",
        ha="right",
        fontsize=SMALL_PT,
        color=SOFT,
    )


def _beside(axes: "Axes", words: str, launch_deg: float) -> None:
    axes.annotate(
        words,
        (1.0, launch_deg),
        xycoords=("axes fraction", "data"),
        xytext=(3, 0),
        textcoords="offset points",
        va="center_baseline",
        fontsize=SMALL_PT,
        color=SOFT,
    )


def _draw_hit(axes: "Axes", each: Numbered, units: Units, count: int) -> None:
    """Nine in ten each way; fainter where there are many."""
    speed, launch = _place(each, units)
    wide = NINE_IN_TEN * (each.swing.exit_speed_sd_mps or 0.0) / SPEED[units].si_per_unit
    high = NINE_IN_TEN * (each.swing.launch_sd_deg or 0.0)
    strength = 0.8 if count <= 30 else 0.4 if count <= 80 else 0.25
    for x, y in (([speed - wide, speed + wide], [launch] * 2), ([speed] * 2, [launch - high, launch + high])):
        axes.plot(x, y, color=INK, linewidth=0.8, alpha=strength, zorder=5)
