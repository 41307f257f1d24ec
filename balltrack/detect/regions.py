"""What ball each changed region of a frame would be: place, size, direction and colour, of all regions at once."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates, no_candidates
from balltrack.units import Floats
from balltrack.video.frames import Frame

SMALLEST_AREA_PX = 3
INSIDE_WEIGHT = 0.3  # of a pixel for being inside; up to 1 comes to it for how much it differs
PLACE_VARIANCE_PX2 = 1 / 12  # of a place that is known to the pixel
CORE_FIFTHS = 3  # of a region's pixels, in fifths, differ less than its core

Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A box of a frame, and which of its pixels are meant."""

    left: int
    top: int
    mask: Bytes  # (height, width) not 0 where meant


@dataclass(frozen=True, slots=True, eq=False)
class _Pixels:
    """The pixels of all regions, one region after the other."""

    columns: Ints  # (n,)
    rows: Ints  # (n,)
    counts: Ints  # (r,)
    starts: Ints  # (r,) where each region's begin

    def sums(self, values: Floats) -> Floats:
        """(r,) sum over each region of (n,) values."""
        return np.asarray(np.add.reduceat(values, self.starts))

    def peaks(self, values: Floats) -> Floats:
        """(r,) largest in each region of (n,) values."""
        return np.asarray(np.maximum.reduceat(values, self.starts))

    def each(self, values: Floats) -> Floats:
        """(n,) for each pixel, its region's of (r,) values."""
        return np.repeat(values, self.counts)


def describe(frame: Frame, background: Background, luma: Bytes, regions: Sequence[Region]) -> Candidates:
    """Describe each region as the blurred disc that has its moments; regions of under three pixels are left out.

    Parameters
    ----------
    frame : Frame
    background : Background
        Of the same size.
    luma : (h, w) array
        The frame's, its exposure matched to the empty field's.
    regions : sequence of Region
    """
    pixels = _pixels(regions)
    if not len(pixels.counts):
        return no_candidates(frame.time_s)
    rows, columns = pixels.rows, pixels.columns
    strength = np.abs(luma[rows, columns] - background.luma[rows, columns].astype(np.float64))
    # Edges of a blurred ball count less, flat ones still do.
    weight = INSIDE_WEIGHT + strength / pixels.each(np.maximum(pixels.peaks(strength), 1.0))
    centre, (suu, svv, suv) = _moments(pixels, weight)
    half_sum, half_difference = (suu + svv) / 2, (suu - svv) / 2
    root = np.hypot(half_difference, suv)
    angle = 0.5 * np.arctan2(suv, half_difference)
    # A disc of diameter d has variance d²/16 along each axis; 2/sqrt(12)-type factors for streaks differ by under 15 %.
    return Candidates(
        frame.time_s,
        centre_px=centre,
        width_px=4 * np.sqrt(np.maximum(half_sum - root, PLACE_VARIANCE_PX2)),
        length_px=4 * np.sqrt(half_sum + root),
        axis=np.stack([np.cos(angle), np.sin(angle)], axis=1),
        colour=_colours(frame, pixels, strength),
        contrast=np.maximum(pixels.peaks(strength / background.luma_limit[rows, columns]), 1.0),
        likeness=np.full(len(centre), np.nan),
    )


def _pixels(regions: Sequence[Region]) -> _Pixels:
    """The pixels of those regions that have enough of them."""
    places: list[NDArray[np.int32]] = []
    corners: list[tuple[int, int]] = []
    for region in regions:
        found: NDArray[np.int32] | None = cv2.findNonZero(region.mask)  # type: ignore[assignment]  # None where none is
        if found is not None and len(found) >= SMALLEST_AREA_PX:
            places.append(found.reshape(-1, 2))
            corners.append((region.left, region.top))
    counts = np.array([len(place) for place in places], dtype=np.intp)
    corner = np.repeat(np.array(corners, dtype=np.intp).reshape(-1, 2), counts, axis=0)
    columns, rows = (corner + np.concatenate([np.zeros((0, 2), dtype=np.int32), *places])).T.copy()
    return _Pixels(columns, rows, counts, np.cumsum(counts) - counts)


def _moments(pixels: _Pixels, weight: Floats) -> tuple[Floats, tuple[Floats, Floats, Floats]]:
    """(r, 2) centres, and the second moments about them: (r,) each of uu, vv and uv."""
    total = pixels.sums(weight)
    u, v = (pixels.sums(weight * part) / total for part in (pixels.columns, pixels.rows))
    du, dv = pixels.columns - pixels.each(u), pixels.rows - pixels.each(v)
    weighted = weight * du
    suu, suv = (pixels.sums(weighted * part) / total for part in (du, dv))
    svv = pixels.sums(weight * dv * dv) / total
    return np.stack([u, v], axis=1), (suu + PLACE_VARIANCE_PX2, svv + PLACE_VARIANCE_PX2, suv)


def _colours(frame: Frame, pixels: _Pixels, strength: Floats) -> Floats:
    """(r, 3) mean luma, cb and cr of each region's core: of the two fifths of its pixels that differ most."""
    region = np.repeat(np.arange(len(pixels.counts)), pixels.counts)
    ordered = np.sort(256 * region + strength.astype(np.intp))  # by region, in it by strength
    weakest = ordered[pixels.starts + -(-CORE_FIFTHS * (pixels.counts - 1) // 5)] % 256
    core = strength >= pixels.each(weakest)
    rows, columns, region = pixels.rows[core], pixels.columns[core], region[core]
    half_rows = np.minimum(rows // 2, frame.cb.shape[0] - 1)
    half_columns = np.minimum(columns // 2, frame.cb.shape[1] - 1)
    values = frame.luma[rows, columns], frame.cb[half_rows, half_columns], frame.cr[half_rows, half_columns]
    count = np.bincount(region)
    return np.stack([np.bincount(region, weights=value) / count for value in values], axis=1)
