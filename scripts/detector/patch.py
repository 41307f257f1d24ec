"""One example for the detector: three frames of a square part of the picture, and the balls that fly through it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from detector.stills import Bytes


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Luma before, now and after, with the boxes of the balls now."""

    frames: Bytes  # (3, side, side)
    box_px: NDArray[np.float64]  # (n, 4) left, top, right, bottom of each ball's streak, in pixel edges
    diameter_px: float  # of its ball; 0 where there is none
    streak_px: float
    contrast: float  # codes by which the ball changes what is behind it
    scene: str
