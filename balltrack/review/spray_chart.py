"""Where the balls went, seen from above: landing spots with their uncertainty, on the lesson's own field."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from balltrack.records.swing import Swing
from balltrack.records.table import DISTANCE, Units
from balltrack.review.field_drawing import INK, Plan, draw_field
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Shape tells the blocks apart in black and white; lightness and colour help where there is colour.
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h")
FILLS = ("#0d5c63", "#d9822b", "#6d597a", "#f2c14e", "#3a7d44", "#b23a48", "#9ab7d3", "#4a4a4a")
NINE_IN_TEN_PLANE = 2.146  # radii of a plane normal distribution that hold 90 in 100: sqrt(-2 ln 0.1)
MOST_NUMBERED = 40  # above so many balls, numbers beside them hide more than they tell


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """Where one ball came down, in the reader's unit."""

    number: int  # of the swing in the lesson, from 1
    block: str
    place: Floats  # (2,)
    covariance: Floats | None  # (2, 2)
    sure: bool  # quality is not poor


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All that the chart shows."""

    title: str
    bats: str  # right | left
    plan: Plan
    blocks: tuple[str, ...]
    block_titles: tuple[str, ...]
    spots: tuple[Spot, ...]


def spots_of(swings: Sequence[Swing], units: Units) -> tuple[Spot, ...]:
    """Landing spots of the swings that have one and that nobody left out."""
    scale = DISTANCE[units].si_per_unit
    return tuple(
        Spot(
            number,
            swing.block,
            np.array(swing.landing_m) / scale,
            None if swing.landing_cov_m2 is None else np.array(swing.landing_cov_m2) / scale**2,
            swing.quality != "poor",
        )
        for number, swing in enumerate(swings, start=1)
        if swing.landing_m is not None and not swing.excluded
    )


def draw_spray_chart(scene: Scene) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state)."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.2, 5.9), facecolor="white")
    axes = figure.add_axes((0.01, 0.06, 0.98, 0.87))
    draw_field(axes, scene.plan)
    for spot in scene.spots:
        _draw_spot(axes, spot, scene.blocks.index(spot.block))
    if len(scene.spots) <= MOST_NUMBERED:
        _number_spots(axes, scene)
    _name_sides(axes, scene)
    _frame(axes, scene)
    _draw_legend(axes, scene)
    figure.text(0.5, 0.962, scene.title, ha="center", va="center", fontsize=13, color=INK, weight="bold")
    figure.text(
        0.5,
        0.02,
        f"Distances in {scene.plan.unit} from the plate. Ovals hold nine in ten. Hollow: poor quality.",
        ha="center",
        fontsize=8.5,
        color=INK,
    )
    return figure


def chart_svg(figure: "Figure") -> str:
    """The figure as a standalone SVG, the same bytes for the same figure; text stays text."""
    import matplotlib

    text = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "balltrack"}):
        figure.savefig(text, format="svg", metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
    return text.getvalue()


def chart_png(figure: "Figure", dots_per_inch: int = 200) -> bytes:
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return data.getvalue()


def _draw_spot(axes: "Axes", spot: Spot, block: int) -> None:
    from matplotlib.patches import Ellipse

    fill, x, y = FILLS[block % len(FILLS)], *spot.place
    axes.plot([0, x], [0, y], color=INK, linewidth=0.5, alpha=0.25, zorder=3)
    if spot.covariance is not None:
        spreads, ways = np.linalg.eigh(spot.covariance)
        width, height = 2 * NINE_IN_TEN_PLANE * np.sqrt(np.maximum(spreads, 0))
        angle_deg = np.degrees(np.arctan2(ways[1, 0], ways[0, 0]))
        style = {"angle": angle_deg, "facecolor": fill, "alpha": 0.16, "edgecolor": "none", "zorder": 4}
        axes.add_patch(Ellipse((x, y), width, height, **style))
        axes.add_patch(
            Ellipse((x, y), width, height, angle=angle_deg, fill=False, edgecolor=INK, linewidth=0.5, zorder=4)
        )
    (dot,) = axes.plot(
        x,
        y,
        marker=MARKERS[block % len(MARKERS)],
        markersize=7,
        markerfacecolor=fill if spot.sure else "white",
        markeredgecolor=INK,
        markeredgewidth=0.9,
        zorder=5,
    )
    dot.set_gid(f"ball-{spot.number}")  # by which a page finds it


def _number_spots(axes: "Axes", scene: Scene) -> None:
    """Put each number on the side of its ball that is away from the nearest other one."""
    for spot in scene.spots:
        others = [other.place - spot.place for other in scene.spots if other is not spot]
        nearest = min(others, key=lambda way: float(np.hypot(*way)), default=np.array([-1.0, 0.0]))
        sign = -1 if nearest[0] > 0 else 1
        axes.annotate(
            str(spot.number),
            (float(spot.place[0]), float(spot.place[1])),
            xytext=(5.5 * sign, 4.5),
            textcoords="offset points",
            ha="left" if sign > 0 else "right",
            fontsize=9,
            color=INK,
            bbox={"boxstyle": "round,pad=0.06", "facecolor": "white", "alpha": 0.65, "linewidth": 0},
            zorder=6,
        )


def _name_sides(axes: "Axes", scene: Scene) -> None:
    """Say along the foul lines which side is which for this batter."""
    opposite_is_right = scene.bats == "right"
    for sign, is_opposite in ((-1, not opposite_is_right), (1, opposite_is_right)):
        place = 0.62 * scene.plan.reach * np.array([sign * np.sin(pi / 4), np.cos(pi / 4)])
        axes.annotate(
            "opposite field" if is_opposite else "pull side",
            tuple(place),
            xytext=(sign * 33, -33),
            textcoords="offset points",
            rotation=-45 * -sign,
            rotation_mode="anchor",
            ha="center",
            va="center",
            fontsize=10.5,
            style="italic",
            color=INK,
        )


def _frame(axes: "Axes", scene: Scene) -> None:
    """Show the whole field, and every ball with its oval."""
    plan = scene.plan
    corners = [np.zeros((1, 2)), plan.reach * np.array([[-np.sin(pi / 4), 1.0], [np.sin(pi / 4), 1.0]])]
    corners += [plan.fence] if plan.fence is not None else []
    for spot in scene.spots:
        spread = np.zeros(2) if spot.covariance is None else NINE_IN_TEN_PLANE * np.sqrt(np.diag(spot.covariance))
        corners.append(np.array([spot.place - spread, spot.place + spread]))
    low, high = np.vstack(corners).min(axis=0), np.vstack(corners).max(axis=0)
    half = max(-low[0], high[0]) + 0.09 * plan.reach  # distances stand left of the foul line
    axes.set_xlim(-half, half)
    axes.set_ylim(low[1] - 0.05 * plan.reach, high[1] + 0.03 * plan.reach)


def _draw_legend(axes: "Axes", scene: Scene) -> None:
    from matplotlib.lines import Line2D

    seen = {spot.block for spot in scene.spots}
    handles = [
        Line2D(
            [],
            [],
            linestyle="none",
            marker=MARKERS[i % len(MARKERS)],
            markerfacecolor=FILLS[i % len(FILLS)],
            markeredgecolor=INK,
            markersize=7,
            label=title,
        )
        for i, (block, title) in enumerate(zip(scene.blocks, scene.block_titles, strict=True))
        if block in seen
    ]
    if handles:
        axes.legend(handles=handles, loc="lower right", frameon=False, fontsize=9, labelcolor=INK)
    else:
        axes.text(0, 0.8 * scene.plan.reach, "No landing spot was measured", ha="center", fontsize=11, color=INK)
