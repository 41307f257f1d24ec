"""One example for the detector, and whether a find is its ball."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.detect.background import Bytes
from balltrack.detect.network import Finds, Network
from balltrack.units import Floats

BATCH = 64
NEAR_PX, NEAR_SHARE = 2.0, 0.25  # a find is right if its middle lies within so much, and that share of the box's side


@dataclass(frozen=True, slots=True, eq=False)
class Example:
    """Three frames of a square part of the picture, and the balls that fly through it."""

    frames: Bytes  # (3, side, side) luma before, now and after
    box_px: Floats  # (n, 4) left, top, right, bottom of each ball's streak now, in pixel edges


def streak_box(centre_px: Floats, diameter_px: float, run_px: Floats) -> Floats:
    """(4,) the box around a disc that moves by ``run_px`` while the shutter is open.

    The box counts from the corner of the top-left pixel, the centre from its middle.
    """
    reach = 0.5 * np.abs(run_px) + 0.5 * diameter_px
    return np.concatenate([centre_px + 0.5 - reach, centre_px + 0.5 + reach])


def look(network: Network, frames: Sequence[Bytes]) -> list[Finds]:
    """What a network finds in each of many patches (3, side, side), a few at a time to spare memory."""
    finds: list[Finds] = []
    for start in range(0, len(frames), BATCH):
        finds += network.look(np.stack(frames[start : start + BATCH]))
    return finds


def judge(box_px: Floats, finds: Finds) -> tuple[float, int]:
    """How far off the ball of the first box (n, 4) was found, NaN if it was not; and how many finds are no ball."""
    if not len(box_px):
        return float("nan"), len(finds)
    if not len(finds):
        return float("nan"), 0
    box = box_px[0] - 0.5
    off = np.abs(finds.centre_px - 0.5 * (box[:2] + box[2:]))
    near = (off <= NEAR_PX + NEAR_SHARE * (box[2:] - box[:2])).all(axis=1)
    if not near.any():
        return float("nan"), len(finds)
    return float(np.hypot(*off[near][0])), int((~near).sum())
