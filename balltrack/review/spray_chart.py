"""Where the balls went, seen from above: landing spots with their uncertainty, on the lesson's own field."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import radians, sqrt
from typing import TYPE_CHECKING

import numpy as np

from balltrack.lesson import Lesson
from balltrack.records.describe import MIDDLE_DEG
from balltrack.records.swing import Swing
from balltrack.records.table import DISTANCE, Units
from balltrack.review.field_drawing import FOUL_RAD, Plan, draw_field
from balltrack.review.labels import number_marks
from balltrack.review.language import say
from balltrack.review.numbered import Numbered, numbered, numbers_said
from balltrack.review.plan import plan_of
from balltrack.review.style import FAINT, INK, SOFT, TEXT_PT, WIDTH_PT, Frame, Look, dot, framed, looks_of, marker_pt
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NINE_IN_TEN_PLANE = 2.146  # radii of a plane normal distribution that hold 90 in 100: sqrt(-2 ln 0.1)
FEW = 12  # up to so many balls, a line from the plate to each helps; above, lines hide more than they tell
VAGUE_SHARE = 0.25  # an oval reaches beyond the drawn field by this share of it at most: the spot counts, not the doubt


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """Where one ball came down, in the reader's unit."""

    number: int  # of the swing in the lesson, from 1
    block: str
    place: Floats  # (2,)
    covariance: Floats | None  # (2, 2)
    sure: bool  # quality is not poor


def spots_of(swings: Sequence[Swing], units: Units, block: str | None = None) -> tuple[Spot, ...]:
    """Landing spots of the swings that have one and that nobody left out, of one block or of all."""
    scale = DISTANCE[units].si_per_unit
    return tuple(
        Spot(
            each.number,
            each.swing.block,
            np.array(each.swing.landing_m) / scale,
            None if each.swing.landing_cov_m2 is None else np.array(each.swing.landing_cov_m2) / scale**2,
            each.swing.quality != "poor",
        )
        for each in numbered(swings, block)
        if each.swing.landing_m is not None
    )


def draw_spray_chart(lesson: Lesson, swings: Sequence[Swing], units: Units, block: str | None = None) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state), of one block or of all."""
    spots = spots_of(swings, units, block)
    plan = plan_of(lesson, [spot.place for spot in spots], units)
    looks = looks_of(lesson, swings)
    (left, right), (low, high) = _limits(plan, spots)
    key = [look for name, look in looks.items() if any(spot.block == name for spot in spots)]
    note = say("spray_note") + (f" {say('hollow')}" if any(not spot.sure for spot in spots) else "")
    picture_pt = WIDTH_PT * (high - low) / (right - left)
    figure, box = framed(Frame(say("spray_title", player=lesson.player.name), key, note), picture_pt)
    axes = figure.add_axes(box.of(figure))
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)
    draw_field(axes, plan)
    _draw_spots(axes, spots, looks)
    _name_sides(axes, plan, lesson.player.bats, numbered(swings, block))
    if not spots:
        axes.text(0, 0.8 * plan.reach, say("spray_none"), ha="center", fontsize=TEXT_PT + 1, color=INK)
    return figure


def words_of_spray_chart(lesson: Lesson, swings: Sequence[Swing], units: Units, block: str | None = None) -> str:
    """What the chart shows, for who cannot see it."""
    spots = spots_of(swings, units, block)
    if not spots:
        return say("spray_words_none")
    scale = DISTANCE[units]
    far = max(spots, key=lambda spot: float(np.hypot(*spot.place)))
    sides = _sides(numbered(swings, block))
    far_off = f"{np.hypot(*far.place):.0f}"
    words = [
        say("spray_words", count=len(spots)),
        say(f"spray_words_{lesson.player.bats}", **sides),
        say("spray_words_longest", number=far.number, distance=far_off, unit=scale.unit),
    ]
    over = [each.number for each in numbered(swings, block) if (each.swing.fence_clear_probability or 0.0) > 0.5]
    if over:
        words.append(say("spray_words_over", numbers=numbers_said(over)))
    return " ".join(words)


def _sides(swings: Sequence[Numbered]) -> dict[str, int]:
    return {side: sum(each.swing.field_side == side for each in swings) for side in ("pull", "middle", "opposite")}


def _draw_spots(axes: "Axes", spots: Sequence[Spot], looks: Mapping[str, Look]) -> None:
    size_pt = marker_pt(len(spots))
    strength = min(1.0, sqrt(FEW / max(len(spots), 1)))  # many ovals lie over one another: each is drawn fainter
    for spot in spots:
        look = looks[spot.block]
        if len(spots) <= FEW:
            axes.plot(*np.stack([np.zeros(2), spot.place]).T, color=INK, linewidth=0.5, alpha=0.25, zorder=3)
        _draw_oval(axes, spot, look.fill, strength)
        mark = dot(look, spot.sure, size_pt)
        mark.set_data([spot.place[0]], [spot.place[1]])
        mark.set_zorder(5)
        mark.set_gid(f"ball-{spot.number}")  # by which a page finds it
        axes.add_artist(mark)
    # The furthest first: where numbers run out of room, it is among the short ones that each other ball hides.
    order = sorted(spots, key=lambda spot: -float(np.hypot(*spot.place)))
    number_marks(axes, np.array([spot.place for spot in order]), [spot.number for spot in order], size_pt)


def _draw_oval(axes: "Axes", spot: Spot, fill: str, strength: float) -> None:
    from matplotlib.patches import Ellipse

    if spot.covariance is None:
        return
    spreads, ways = np.linalg.eigh(spot.covariance)
    width, height = 2 * NINE_IN_TEN_PLANE * np.sqrt(np.maximum(spreads, 0))
    angle_deg = float(np.degrees(np.arctan2(ways[1, 0], ways[0, 0])))
    place = (float(spot.place[0]), float(spot.place[1]))
    inside = Ellipse(place, width, height, angle=angle_deg, facecolor=fill, alpha=0.2 * strength, edgecolor="none")
    edge = Ellipse(place, width, height, angle=angle_deg, fill=False, edgecolor=INK, linewidth=0.5, alpha=strength)
    for patch in (inside, edge):
        patch.set_zorder(4)
        axes.add_artist(patch)


def _name_sides(axes: "Axes", plan: Plan, bats: str, swings: Sequence[Numbered]) -> None:
    """Part the fair field in its three sectors, and say beyond the fence which is which, and how many went there."""
    edge = plan.fence if plan.fence is not None else plan.reach * np.array([[-sqrt(0.5), sqrt(0.5)], [0, 1.0]])
    counts = _sides(swings)
    for sign in (-1, 1):
        line = np.array([sign * np.sin(radians(MIDDLE_DEG)), np.cos(radians(MIDDLE_DEG))])
        far = plan.reach if plan.fence is None else _reach_along(edge, sign * radians(MIDDLE_DEG))
        ends = np.stack([1.25 * plan.base_path * line, far * line])
        axes.plot(*ends.T, color=FAINT, linewidth=0.8, linestyle=(0, (5, 3)), zorder=2)
        side = "opposite" if (sign > 0) == (bats == "right") else "pull"
        words = say(f"sector_{side}", count=counts[side])
        _say_side(axes, words, (0.5 + sign * 0.48, 0.91), "right" if sign > 0 else "left")
    _say_side(axes, say("sector_middle", count=counts["middle"]), (0.5, 0.91), "center")


def _say_side(axes: "Axes", words: str, place: tuple[float, float], align: str) -> None:
    axes.text(
        *place,
        words,
        transform=axes.transAxes,
        ha=align,
        va="bottom",
        fontsize=TEXT_PT,
        linespacing=1.25,
        color=SOFT,
        zorder=7,
    )


def _reach_along(edge: Floats, angle_rad: float) -> float:
    return float(np.interp(angle_rad, np.arctan2(*edge.T), np.hypot(*edge.T)))


def _limits(plan: Plan, spots: Sequence[Spot]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Left and right, bottom and top, that hold the whole field, every ball, and its oval within reason."""
    corners = [np.zeros((1, 2)), plan.reach * np.array([[-np.sin(FOUL_RAD), 1.0], [np.sin(FOUL_RAD), 1.0]])]
    corners += [plan.fence] if plan.fence is not None else []
    for spot in spots:
        spread = np.zeros(2) if spot.covariance is None else NINE_IN_TEN_PLANE * np.sqrt(np.diag(spot.covariance))
        spread = np.minimum(spread, VAGUE_SHARE * plan.reach)
        corners.append(np.array([spot.place - spread, spot.place + spread]))
    low, high = np.vstack(corners).min(axis=0), np.vstack(corners).max(axis=0)
    half = max(-low[0], high[0]) + 0.06 * plan.reach
    return (-half, half), (low[1] - 0.04 * plan.reach, high[1] + 0.16 * plan.reach)  # above: the sectors' names
