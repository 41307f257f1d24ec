"""A field seen from above, drawn to its own dimensions, in the reader's units."""

from dataclasses import dataclass
from math import pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from balltrack.review.language import say
from balltrack.review.style import FAINT, INK, PAPER, SMALL_PT, SOFT
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GRASS = "#e9f0e3"
DIRT = "#f6ecd9"
FOUL_RAD = pi / 4  # foul lines left and right of the line to second base
DIRT_SHARE = 1.05  # the skinned infield reaches so many base paths from the pitcher; drawn by eye, no source


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What of the field is drawn, in the reader's unit of distance."""

    base_path: float
    pitching_distance: float
    fence: Floats | None  # (n, 2) from the left pole to the right
    reach: float  # how far from the plate the drawing goes
    unit: str
    ring_step: float


def draw_field(axes: "Axes", plan: Plan) -> None:
    """Draw grass, infield, foul lines, distance rings, bases and fence. The axes become a plain sheet."""
    from matplotlib.patches import Polygon

    axes.set_aspect("equal")
    axes.axis("off")
    edge = plan.fence if plan.fence is not None else plan.reach * fan(1.0)
    axes.add_patch(Polygon(np.vstack([[0.0, 0.0], edge]), facecolor=GRASS, edgecolor="none", zorder=0))
    _draw_infield(axes, plan)
    _draw_rings(axes, plan, edge)
    for end in (edge[0], edge[-1]):
        axes.plot([0, end[0]], [0, end[1]], color=INK, linewidth=1.0, zorder=2)
    if plan.fence is not None:
        axes.plot(*plan.fence.T, color=INK, linewidth=2.6, solid_capstyle="round", zorder=2)
        _say_fence(axes, plan, plan.fence)


def fan(radius: float, points: int = 61) -> Floats:
    """(n, 2) points of an arc from foul line to foul line."""
    angles = np.linspace(-FOUL_RAD, FOUL_RAD, points)
    return radius * np.column_stack([np.sin(angles), np.cos(angles)])


def _draw_infield(axes: "Axes", plan: Plan) -> None:
    from matplotlib.patches import Polygon

    side = plan.base_path / sqrt(2)
    mound = plan.pitching_distance
    turn = np.linspace(0, 2 * pi, 181)
    skin = np.column_stack([sin_cos * plan.base_path * DIRT_SHARE for sin_cos in (np.sin(turn), np.cos(turn))])
    skin[:, 1] += mound
    in_play = skin[np.abs(skin[:, 0]) <= skin[:, 1]]
    in_order = in_play[np.argsort(np.arctan2(in_play[:, 0], in_play[:, 1] - mound))]
    axes.add_patch(Polygon(np.vstack([[0, 0], in_order]), facecolor=DIRT, edgecolor="none", zorder=1))
    corners = np.array([[0, 0], [side, side], [0, 2 * side], [-side, side]])
    axes.add_patch(Polygon(corners, fill=False, edgecolor=FAINT, linewidth=0.8, zorder=2))
    for x, y in corners[1:]:
        axes.plot(x, y, marker="D", markersize=4.0, markerfacecolor=PAPER, markeredgecolor=SOFT, zorder=3)
    axes.plot(0, 0, marker="p", markersize=5.5, markerfacecolor=PAPER, markeredgecolor=SOFT, zorder=3)
    axes.plot(0, plan.pitching_distance, marker="_", markersize=6, markeredgewidth=1.6, color=SOFT, zorder=3)


def _draw_rings(axes: "Axes", plan: Plan, edge: Floats) -> None:
    """Arcs of even distance, with the distance on the left foul line; the one nearest the plate says the unit."""
    longest = float(np.max(np.hypot(*edge.T)))
    for radius in np.arange(plan.ring_step, longest, plan.ring_step):
        arc = fan(radius)
        inside = np.asarray(radius <= np.interp(np.arctan2(*arc.T), np.arctan2(*edge.T), np.hypot(*edge.T)))
        shown = np.where(inside[:, None], arc, np.nan)
        axes.plot(*shown.T, color=FAINT, linewidth=0.7, linestyle=(0, (1, 3)), zorder=1.5)
        if inside[0]:
            words = f"{radius:.0f} {plan.unit}" if radius == plan.ring_step else f"{radius:.0f}"
            axes.annotate(
                words,
                (float(arc[0, 0]), float(arc[0, 1])),
                xytext=(-4, -3),
                textcoords="offset points",
                ha="right",
                va="top",
                fontsize=SMALL_PT,
                color=SOFT,
            )


def _say_fence(axes: "Axes", plan: Plan, fence: Floats) -> None:
    """How far the fence is, in the corner beyond the right foul line; thrice where it is nearer at the poles."""
    ends = np.hypot(*fence[[0, len(fence) // 2, -1]].T)
    words = say("field_fence", distance=f"{ends[1]:.0f}", unit=plan.unit)
    if np.ptp(ends) > 0.5:
        words = say("field_fence_round", distances=", ".join(f"{each:.0f}" for each in ends), unit=plan.unit)
    axes.text(
        0.985, 0.02, words, transform=axes.transAxes, ha="right", va="bottom", fontsize=SMALL_PT, color=SOFT, zorder=2.5
    )
