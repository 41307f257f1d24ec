"""A field seen from above, drawn to its own dimensions, in the reader's units."""

from dataclasses import dataclass
from math import cos, pi, sin, sqrt

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from balltrack.units import Floats

INK = "#1c2b2a"
FAINT = "#8b9894"
GRASS = "#edf2e8"
DIRT = "#f4ead8"
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


def draw_field(axes: Axes, plan: Plan) -> None:
    """Draw grass, infield, foul lines, distance rings, bases and fence. The axes become a plain sheet."""
    axes.set_aspect("equal")
    axes.axis("off")
    edge = plan.fence if plan.fence is not None else plan.reach * _fan(1.0)
    axes.add_patch(Polygon(np.vstack([[0.0, 0.0], edge]), facecolor=GRASS, edgecolor="none", zorder=0))
    _draw_infield(axes, plan)
    _draw_rings(axes, plan, edge)
    for end in (edge[0], edge[-1]):
        axes.plot([0, end[0]], [0, end[1]], color=INK, linewidth=1.2, zorder=2)
    if plan.fence is not None:
        axes.plot(*plan.fence.T, color=INK, linewidth=2.6, solid_capstyle="round", zorder=2)


def _fan(radius: float, points: int = 61) -> Floats:
    """(n, 2) points of an arc from foul line to foul line."""
    angles = np.linspace(-FOUL_RAD, FOUL_RAD, points)
    return radius * np.column_stack([np.sin(angles), np.cos(angles)])


def _draw_infield(axes: Axes, plan: Plan) -> None:
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
        axes.plot(x, y, marker="D", markersize=4.5, markerfacecolor="white", markeredgecolor=INK, zorder=3)
    axes.plot(0, 0, marker="p", markersize=6, markerfacecolor="white", markeredgecolor=INK, zorder=3)
    axes.plot(0, plan.pitching_distance, marker="_", markersize=7, markeredgewidth=2, color=INK, zorder=3)


def _draw_rings(axes: Axes, plan: Plan, edge: Floats) -> None:
    """Arcs of even distance, with the distance on the left foul line."""
    longest = float(np.max(np.hypot(*edge.T)))
    for radius in np.arange(plan.ring_step, longest, plan.ring_step):
        arc = _fan(radius)
        inside = np.asarray(radius <= np.interp(np.arctan2(*arc.T), np.arctan2(*edge.T), np.hypot(*edge.T)))
        shown = np.where(inside[:, None], arc, np.nan)
        axes.plot(*shown.T, color=FAINT, linewidth=0.7, linestyle=(0, (1, 3)), zorder=1.5)
        if inside[0]:
            x, y = -radius * sin(FOUL_RAD), radius * cos(FOUL_RAD)
            axes.annotate(
                f"{radius:.0f}",
                (x, y),
                xytext=(-5, -4),
                textcoords="offset points",
                ha="right",
                va="top",
                fontsize=8.5,
                color=INK,
            )
