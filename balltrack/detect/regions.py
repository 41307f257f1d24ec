"""What ball each changed region of a frame would be: place, size, direction and colour, of all regions at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates
from balltrack.detect.islands import CORE, LEFT, LIMIT, LUMA, OVER, PEAK, TOP, Ints, N, Planes, S, sums
from balltrack.video.frames import Frame

SMALLEST_AREA_PX = 3
INSIDE_WEIGHT = 0.3  # of a pixel for being inside; up to 1 comes to it for how much it differs
PLACE_VARIANCE_PX2 = 1 / 12  # of a place that is known to the pixel


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """Boxes of a frame, and which of their pixels are meant."""

    plain: Bytes  # (h, w or a little more) 0 or 255
    thick: Bytes  # what of the plain one is thick
    boxes: Ints  # (n, 4) left, top, width, height
    stout: NDArray[np.bool_]  # (n,) whose pixels are those of the thick mask


def planes_of(frame: Frame, background: Background, luma: Bytes) -> Planes:
    """What a frame's regions are described by; ``luma`` (h, w) is its own, exposed as the empty field."""
    read = luma, background.luma, background.luma_limit, frame.luma, frame.cb, frame.cr
    return Planes(*(read_only(plane) for plane in read))


def read_only(plane: Bytes) -> Bytes:
    """A plane as kernels take it."""
    view = np.ascontiguousarray(plane)[:]
    view.flags.writeable = False
    return view


def describe(time_s: float, planes: Planes, regions: Regions, most: int) -> Candidates:
    """Describe each region as the blurred disc that has its moments.

    Those of under three pixels are left out, and those of the plain mask of which some is thick: it stands for them.

    Parameters
    ----------
    time_s : float
        The frame's timestamp.
    planes : Planes
    regions : Regions
    most : int
        Of so many, the first, no more are looked at.
    """
    told = sums(planes, regions.plain, regions.thick, regions.boxes, regions.stout, most)
    told = told[told[:, N] >= SMALLEST_AREA_PX].T.astype(np.float64)
    # Edges of a blurred ball count less, flat ones still do.
    total, u, v, uu, vv, uv = INSIDE_WEIGHT * told[N:S] + told[S:PEAK] / np.maximum(told[PEAK], 1.0)
    u, v = u / total, v / total
    suu, svv, suv = uu / total - u * u + PLACE_VARIANCE_PX2, vv / total - v * v + PLACE_VARIANCE_PX2, uv / total - u * v
    half_sum, half_difference = (suu + svv) / 2, (suu - svv) / 2
    root = np.hypot(half_difference, suv)
    angle = 0.5 * np.arctan2(suv, half_difference)
    # A disc of diameter d has variance d²/16 along each axis; 2/sqrt(12)-type factors for streaks differ by under 15 %.
    return Candidates(
        time_s,
        centre_px=np.stack([told[LEFT] + u, told[TOP] + v], axis=1),
        width_px=4 * np.sqrt(np.maximum(half_sum - root, PLACE_VARIANCE_PX2)),
        length_px=4 * np.sqrt(half_sum + root),
        axis=np.stack([np.cos(angle), np.sin(angle)], axis=1),
        colour=(told[LUMA:] / told[CORE]).T,
        contrast=np.maximum(told[OVER] / told[LIMIT], 1.0),
        likeness=np.full(len(total), np.nan),
    )
