"""Axes of the review's pictures: few lines, small words, names that stand upright."""

from typing import TYPE_CHECKING

from balltrack.review.style import FAINT, SMALL_PT, SOFT, Box

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEFT_PT, RIGHT_PT, BELOW_PT, ABOVE_PT = 30.0, 10.0, 29.0, 22.0  # room for numbers and names around the axes


def plain_axes(figure: "Figure", box: Box, across: str, upward: str, right_pt: float = RIGHT_PT) -> "Axes":
    """Axes within a box, its numbers and names inside it too: what goes across below, what goes upward on top left."""
    inner = Box(
        box.left + LEFT_PT,
        box.bottom + BELOW_PT,
        box.width - LEFT_PT - right_pt,
        box.height - BELOW_PT - ABOVE_PT,
    )
    axes = figure.add_axes(inner.of(figure))
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(SOFT)
        axes.spines[side].set_linewidth(0.8)
    axes.tick_params(length=3, width=0.8, color=SOFT, labelsize=SMALL_PT, labelcolor=SOFT, pad=2.5)
    axes.set_axisbelow(True)
    axes.grid(True, axis="y", color=FAINT, linewidth=0.5, alpha=0.4)
    axes.annotate(
        upward,
        (0, 1),
        xycoords="axes fraction",
        xytext=(-LEFT_PT + 6, 6),
        textcoords="offset points",
        fontsize=SMALL_PT,
        color=SOFT,
    )
    name_across(axes, across)
    return axes


def name_across(axes: "Axes", words: str) -> None:
    """Say below the axes' right end what goes across."""
    axes.annotate(
        words,
        (1, 0),
        xycoords="axes fraction",
        xytext=(0, -BELOW_PT + 4),
        textcoords="offset points",
        ha="right",
        fontsize=SMALL_PT,
        color=SOFT,
    )
