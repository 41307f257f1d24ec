"""The field without its movers: what each pixel shows when nothing passes, and how much it flickers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.median import median_and_deviation, median_plane
from balltrack.errors import VideoError
from balltrack.video.frames import Box, Frame

Bytes = NDArray[np.uint8]

MAD_TO_SD = 1.4826  # standard deviation of a normal variable over its median absolute deviation
LUMA_SIGMAS = 4.5  # a pixel differs when it leaves its own flicker by so many standard deviations
LUMA_FLOOR = 7  # compression alone moves quiet luma by a few steps
CHROMA_FLOOR = 9  # sum of both chroma differences; chroma is coarser in phone files
FEWEST_FRAMES = 3
NEAR_ROWS = 4  # a pixel's flicker is that of all within so many rows and columns
STRIP_ROWS = 270  # worked on at a time


@dataclass(frozen=True, slots=True, eq=False)
class Background:
    """The empty field as 8-bit planes, with the difference at which a pixel counts as changed."""

    luma: Bytes  # (h, w)
    cb: Bytes  # (h/2, w/2)
    cr: Bytes  # (h/2, w/2)
    luma_limit: Bytes  # (h, w)
    chroma_limit: Bytes  # (h/2, w/2)
    luma_noise: Bytes  # (h, w) temporal standard deviation, rounded up

    def part(self, box: Box) -> "Background":
        """What lies within a box."""
        cut, half = box.cut, box.half_cut
        planes = self.luma[cut], self.cb[half], self.cr[half]
        return Background(*planes, self.luma_limit[cut], self.chroma_limit[half], self.luma_noise[cut])


def median_background(frames: Sequence[Frame]) -> Background:
    """Take the median over time of every pixel, and its flicker.

    Parameters
    ----------
    frames : sequence of Frame
        Spread over the time in which movers pass; each mover must leave any one pixel free half of the time.

    Raises
    ------
    VideoError
        If there are fewer than three frames.
    """
    if len(frames) < FEWEST_FRAMES:
        raise VideoError(f"only {len(frames)} frames to learn the empty field from (need {FEWEST_FRAMES}); film longer")
    luma, luma_deviation = median_and_deviation([frame.luma for frame in frames])
    luma_limit, luma_noise = np.empty_like(luma), np.empty_like(luma)
    for rows, flicker in _flicker(luma_deviation):
        luma_limit[rows] = _limit(flicker, LUMA_SIGMAS, 2.0, LUMA_FLOOR)
        luma_noise[rows] = _limit(flicker, 1.0, 0.5, 1)
    cb, cb_deviation = median_and_deviation([frame.cb for frame in frames])
    cr, cr_deviation = median_and_deviation([frame.cr for frame in frames])
    chroma_limit = np.empty_like(cb)
    for (rows, cb_flicker), (_, cr_flicker) in zip(_flicker(cb_deviation), _flicker(cr_deviation), strict=True):
        both = np.asarray(cv2.magnitude(cb_flicker, cr_flicker), np.float32)
        chroma_limit[rows] = _limit(both, LUMA_SIGMAS, 3.0, CHROMA_FLOOR)
    return Background(luma, cb, cr, luma_limit, chroma_limit, luma_noise)


def median_luma(frames: Sequence[Frame]) -> Bytes:
    """(h, w) median over time of the luma of at least one frame: a still without what moves."""
    return median_plane([frame.luma for frame in frames])


def _flicker(deviation: Bytes) -> Iterator[tuple[slice, NDArray[np.float32]]]:
    """Rows, and their (rows, w) median absolute deviation, averaged over the neighbours; (h, w) of it is given.

    One pixel's few samples tell little: its neighbours flicker alike. All rows at once would take 33 MB at 4K.
    """
    height = len(deviation)
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        first, last = max(top - NEAR_ROWS, 0), min(bottom + NEAR_ROWS, height)
        near = cv2.boxFilter(deviation[first:last], cv2.CV_32F, (2 * NEAR_ROWS + 1, 2 * NEAR_ROWS + 1))
        yield slice(top, bottom), np.asarray(near[top - first : bottom - first], np.float32)


def _limit(flicker: NDArray[np.float32], sigmas: float, more: float, least: int) -> Bytes:
    """(h, w) so many standard deviations and ``more``, rounded, but not under ``least`` nor over 255."""
    limit = np.asarray(cv2.convertScaleAbs(flicker, alpha=sigmas * MAD_TO_SD, beta=more), np.uint8)
    return np.maximum(limit, np.uint8(least))
