"""The field without its movers: what each pixel shows when nothing passes, and how much it flickers."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.errors import VideoError
from balltrack.video.frames import Frame

Bytes = NDArray[np.uint8]

MAD_TO_SD = 1.4826  # standard deviation of a normal variable over its median absolute deviation
LUMA_SIGMAS = 4.5  # a pixel differs when it leaves its own flicker by so many standard deviations
LUMA_FLOOR = 7  # compression alone moves quiet luma by a few steps
CHROMA_FLOOR = 9  # sum of both chroma differences; chroma is coarser in phone files
FEWEST_FRAMES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Background:
    """The empty field as 8-bit planes, with the difference at which a pixel counts as changed."""

    luma: Bytes  # (h, w)
    cb: Bytes  # (h/2, w/2)
    cr: Bytes  # (h/2, w/2)
    luma_limit: Bytes  # (h, w)
    chroma_limit: Bytes  # (h/2, w/2)
    luma_noise: Bytes  # (h, w) temporal standard deviation, rounded up


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
    luma, luma_sd = _median_and_sd([frame.luma for frame in frames])
    cb, cb_sd = _median_and_sd([frame.cb for frame in frames])
    cr, cr_sd = _median_and_sd([frame.cr for frame in frames])
    luma_limit = np.clip(LUMA_SIGMAS * luma_sd + 2.0, LUMA_FLOOR, 255)
    chroma_limit = np.clip(LUMA_SIGMAS * np.hypot(cb_sd, cr_sd) + 3.0, CHROMA_FLOOR, 255)
    return Background(
        luma, cb, cr, _as_bytes(luma_limit), _as_bytes(chroma_limit), _as_bytes(np.clip(np.ceil(luma_sd), 1, 255))
    )


def median_luma(frames: Sequence[Frame]) -> Bytes:
    """(h, w) median over time of the luma of at least one frame: a still without what moves."""
    return _median(np.stack([frame.luma for frame in frames]))


def _median(stack: Bytes) -> Bytes:
    """Over the first axis; of an even number, the upper of the middle two."""
    middle = len(stack) // 2
    return np.asarray(np.partition(stack, middle, axis=0)[middle])


def _median_and_sd(planes: Sequence[Bytes]) -> tuple[Bytes, NDArray[np.float32]]:
    stack = np.stack(planes)
    median = _median(stack)
    mad = _median(np.abs(stack.astype(np.int16) - median).astype(np.uint8)).astype(np.float32)
    # One pixel's few samples tell little: its neighbours flicker alike.
    return median, MAD_TO_SD * cv2.blur(mad, (9, 9))


def _as_bytes(values: NDArray[np.floating]) -> Bytes:
    return np.asarray(np.rint(values), dtype=np.uint8)
