"""Swing numbers beside their marks, where there is room: no number covers a mark or another number."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from balltrack.review.style import INK, SMALL_PT
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DIGIT_SHARE, HEIGHT_SHARE = 0.64, 0.76  # width of a digit and height of a line of digits, of the type's size
# A number is tried around its mark, the handiest places first: to the right, above, left, below, then between.
ROUND_RAD = np.radians([20.0, 160.0, 70.0, 110.0, -20.0, 200.0, -70.0, -110.0])
GAPS_PT = (1.2, 8.0)  # close to the mark, or further off with a thin line to it
CROWD = 60  # among more marks, such lines tell nothing: a number stands close by or not at all


def number_marks(axes: "Axes", places: Floats, numbers: Sequence[int | None], mark_pt: float) -> None:
    """Write each number beside its mark, in the order given; one that finds no room is left out.

    Parameters
    ----------
    axes : Axes
        With its limits and its place in the figure set for good.
    places : (n, 2) array
        Marks, in data coordinates.
    numbers : sequence of n int, or None
        None: a mark that no number may cover, and that has none.
    mark_pt : float
        Size of a mark. [pt]
    """
    if not len(places):
        return
    axes.apply_aspect()
    middle_pt = axes.transData.transform(places)  # figures of the review have 72 dots an inch: a dot is a point
    taken = np.column_stack([middle_pt - mark_pt / 2, middle_pt + mark_pt / 2])
    frame = np.array(axes.get_window_extent().extents)
    for i, number in enumerate(numbers):
        if number is None:
            continue
        size = SMALL_PT * np.array([DIGIT_SHARE * len(str(number)), HEIGHT_SHARE])
        gaps = GAPS_PT if len(places) <= CROWD else GAPS_PT[:1]
        found = _free_place(middle_pt[i], size, [mark_pt / 2 + gap for gap in gaps], (taken, frame))
        if found is None:
            continue
        centre, led = found
        taken = np.vstack([taken, np.concatenate([centre - size / 2, centre + size / 2])])
        axes.annotate(
            str(number),
            (float(places[i, 0]), float(places[i, 1])),
            xytext=tuple(centre - middle_pt[i]),
            textcoords="offset points",
            ha="center",
            va="center_baseline",
            fontsize=SMALL_PT,
            color=INK,
            arrowprops={"arrowstyle": "-", "linewidth": 0.5, "color": INK, "shrinkA": 0, "shrinkB": mark_pt / 2}
            if led
            else None,
            zorder=8,
        )


def _free_place(
    mark: Floats, size: Floats, off_pt: Sequence[float], around: tuple[Floats, Floats]
) -> tuple[Floats, bool] | None:
    """Middle of the first place where a label of this size meets nothing taken, inside the frame. [pt]

    Returns also whether it is further off than the first of ``off_pt``, and so needs a line.
    """
    taken, frame = around
    for off in off_pt:
        for angle in ROUND_RAD:
            way = np.array([np.cos(angle), np.sin(angle)])
            centre = mark + way * (off + size / 2)
            low, high = centre - size / 2, centre + size / 2
            meets = np.all((low < taken[:, 2:]) & (high > taken[:, :2]), axis=1)
            if not meets.any() and np.all(low >= frame[:2]) and np.all(high <= frame[2:]):
                return centre, off > off_pt[0]
    return None
