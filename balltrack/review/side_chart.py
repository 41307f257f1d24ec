"""The flights from the side, each along its own way, and the fence that they meet or clear. Heights are to scale."""

from collections.abc import Mapping, Sequence
from math import radians
from typing import TYPE_CHECKING

import numpy as np

from balltrack.field import FENCE_DIRECTIONS_RAD, Fence
from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import DISTANCE, Units
from balltrack.records.wording import over_fence
from balltrack.review.axes import ABOVE_PT, BELOW_PT, LEFT_PT, RIGHT_PT, plain_axes
from balltrack.review.flown import Flown, fly_again
from balltrack.review.labels import number_marks
from balltrack.review.language import say, texts
from balltrack.review.numbered import numbered, numbers_said
from balltrack.review.style import (
    FAINT,
    INK,
    SMALL_PT,
    SOFT,
    TEXT_PT,
    WIDTH_PT,
    Frame,
    Look,
    dot,
    framed,
    looks_of,
    marker_pt,
)
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FAIR_RAD = radians(45.0)
LOWEST_SHARE = 0.2  # of its width is the picture high at least
ROW_PT = 11.0  # below the ground, a row of landing marks for each block
FEW = 12  # up to so many flights, each is numbered; above, those that may clear the fence, and the highest
FAINTER = 20  # above so many, lines are drawn fainter
STEP: dict[Units, float] = {"us": 50.0, "metric": 20.0}
HALF_WAY_SHARE = 1.08  # of the fence's distance is drawn at least


def draw_side_chart(lesson: Lesson, swings: Sequence[Swing], units: Units) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state)."""
    flights = _fair(lesson, swings)
    looks = looks_of(lesson, swings)
    unit_m = DISTANCE[units].si_per_unit
    fence_m = 0.0 if lesson.fence is None else float(lesson.fence.distance_m(np.array(FENCE_DIRECTIONS_RAD)).max())
    far = max([HALF_WAY_SHARE * fence_m, 2 * lesson.base_path_m, *(1.03 * _along_m(each)[-1] for each in flights)])
    top = max([LOWEST_SHARE * far, *(1.08 * each.places_m[:, 2].max() for each in flights)])
    wide_pt = WIDTH_PT - LEFT_PT - RIGHT_PT
    rows = [name for name in looks if any(each.swing.block == name for each in flights)]
    low = -(len(rows) + 0.5) * ROW_PT * far / wide_pt
    picture_pt = wide_pt * (top - low) / far + ABOVE_PT + BELOW_PT
    key = [looks[name] for name in rows]
    frame = Frame(say("flights_title", player=lesson.player.name), key, _note(lesson, flights))
    figure, box = framed(frame, picture_pt)
    name = DISTANCE[units].unit
    axes = plain_axes(figure, box, say("flights_along", unit=name), say("flights_up", unit=name))
    axes.set_xlim(0.0, far / unit_m)
    axes.set_ylim(low / unit_m, top / unit_m)
    axes.set_xticks(np.arange(0.0, far / unit_m, STEP[units]))
    axes.set_yticks(np.arange(0.0, top / unit_m, STEP[units] / 2))
    axes.spines["left"].set_bounds(0.0, top / unit_m)
    axes.axhline(0.0, color=SOFT, linewidth=0.8, zorder=1)
    if lesson.fence is not None:
        _draw_fence(axes, lesson.fence, units)
    _draw_flights(axes, flights, looks, lesson.fence, unit_m)
    if not flights:
        axes.text(0.5, 0.5, say("flights_none"), transform=axes.transAxes, ha="center", fontsize=TEXT_PT + 1)
    return figure


def words_of_side_chart(lesson: Lesson, swings: Sequence[Swing], units: Units) -> str:
    """What the chart shows, for who cannot see it."""
    flights = _fair(lesson, swings)
    if not flights:
        return say("flights_words_none")
    scale = DISTANCE[units]
    highest = max(flights, key=lambda each: float(each.places_m[:, 2].max()))
    top = highest.places_m[:, 2].max() / scale.si_per_unit
    words = [
        say("flights_words", count=len(flights)),
        say("flights_words_highest", number=highest.number, height=f"{top:.0f}", unit=scale.unit),
    ]
    if lesson.fence is not None:
        chances = [
            say("flights_words_chance", number=each.number, chance=over_fence(each.swing, texts()))
            for each in flights
            if _may_clear(each.swing)
        ]
        said = say("flights_words_chances", chances=", ".join(chances))
        words.append(said if chances else say("flights_words_no_chance"))
    return " ".join(words)


def _may_clear(swing: Swing) -> bool:
    return (swing.fence_clear_probability or 0.0) >= 0.05


def _fair(lesson: Lesson, swings: Sequence[Swing]) -> tuple[Flown, ...]:
    """Flights that come down between the foul lines."""
    flights = fly_again(lesson, numbered(swings))
    return tuple(each for each in flights if abs(np.arctan2(*each.places_m[-1, :2])) <= FAIR_RAD)


def _along_m(flight: Flown) -> Floats:
    return np.hypot(flight.places_m[:, 0], flight.places_m[:, 1])


def _note(lesson: Lesson, flights: Sequence[Flown]) -> str:
    words = [say("flights_note")]
    if lesson.fence is None:
        return words[0]
    words.append(say("flights_beyond"))
    clear = [each.number for each in flights if (each.swing.fence_clear_probability or 0.0) > 0.5]
    words += [say("flights_clear", numbers=numbers_said(clear))] if clear else []
    return " ".join(words)


def _draw_fence(axes: "Axes", fence: Fence, units: Units) -> None:
    """The fence as a post, or as far as its distance changes from pole to pole."""
    from matplotlib.patches import Rectangle

    unit, unit_m = DISTANCE[units].unit, DISTANCE[units].si_per_unit
    distances = fence.distance_m(np.array(FENCE_DIRECTIONS_RAD)) / unit_m
    near, far, high = float(distances.min()), float(distances.max()), fence.height_m / unit_m
    if far - near > 0.5:
        band = Rectangle((near, 0.0), far - near, high, facecolor="none", edgecolor=SOFT, hatch="////", linewidth=0.6)
        band.set_zorder(1.5)
        axes.add_patch(band)
        words = say("fence_from", near=f"{near:.0f}", far=f"{far:.0f}", high=f"{round(high, 1):g}", unit=unit)
    else:
        axes.plot([near, near], [0.0, high], color=INK, linewidth=3.4, solid_capstyle="butt", zorder=3)
        words = say("fence_at", distance=f"{near:.0f}", high=f"{round(high, 1):g}", unit=unit)
    axes.annotate(
        words,
        (far, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0, 2),
        textcoords="offset points",
        ha="right",
        fontsize=SMALL_PT,
        color=SOFT,
    )
    axes.plot([far, far], [high, axes.get_ylim()[1]], color=FAINT, linewidth=0.7, linestyle=(0, (2, 3)), zorder=1)


def _draw_flights(
    axes: "Axes", flights: Sequence[Flown], looks: Mapping[str, Look], fence: Fence | None, unit_m: float
) -> None:
    strength = 0.9 if len(flights) <= FAINTER else 0.45
    for each in flights:
        along, height = _along_m(each) / unit_m, each.places_m[:, 2] / unit_m
        beyond = len(along) if fence is None else _first_beyond(each, fence)
        for part, dashes in ((slice(0, beyond + 1), "-"), (slice(beyond, None), ":")):
            axes.plot(along[part], height[part], dashes, color=INK, linewidth=0.9, alpha=strength, zorder=4)
    _draw_landings(axes, flights, looks, unit_m)


def _draw_landings(axes: "Axes", flights: Sequence[Flown], looks: Mapping[str, Look], unit_m: float) -> None:
    """Where each flight ends, below the ground in a row for each block."""
    rows = [name for name in looks if any(each.swing.block == name for each in flights)]
    size_pt = marker_pt(len(flights)) - 1.0
    row_high = -axes.get_ylim()[0] / (len(rows) + 0.5)
    ends = []
    for each in flights:
        ends.append((float(_along_m(each)[-1]) / unit_m, -row_high * (0.75 + rows.index(each.swing.block))))
        mark = dot(looks[each.swing.block], each.swing.quality != "poor", size_pt)
        mark.set_data(*([value] for value in ends[-1]))
        mark.set_zorder(5)
        axes.add_artist(mark)
    highest = max((each.places_m[:, 2].max() for each in flights), default=0.0)
    told = [len(flights) <= FEW or _may_clear(each.swing) or each.places_m[:, 2].max() == highest for each in flights]
    order = sorted(range(len(flights)), key=lambda i: -ends[i][0])
    numbers = [flights[i].number if told[i] else None for i in order]
    number_marks(axes, np.array([ends[i] for i in order]), numbers, size_pt)


def _first_beyond(flight: Flown, fence: Fence) -> int:
    """Index of the first place beyond the fence; the number of places where there is none."""
    directions = np.arctan2(flight.places_m[:, 0], flight.places_m[:, 1])
    beyond = _along_m(flight) > fence.distance_m(np.clip(directions, -FAIR_RAD, FAIR_RAD))
    return int(np.argmax(beyond)) if beyond.any() else len(beyond)
