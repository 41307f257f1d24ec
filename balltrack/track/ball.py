"""The batted ball of one swing, frame by frame, in pixels."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats


@dataclass(frozen=True, slots=True, eq=False)
class BallTrack:
    """One row for each frame in which the ball was sought. Rows where it was not found are NaN and not used."""

    time_s: Floats  # (n,) clip time at which the ball's row was exposed: frame timestamp + readout * row / height
    centre_px: Floats  # (n, 2) u, v of the ball at mid-exposure
    centre_sd_px: Floats  # (n, 2) one standard deviation along u and v
    diameter_px: Floats  # (n,) apparent diameter
    diameter_sd_px: Floats  # (n,)
    used: NDArray[np.bool_]  # (n,) whether the flight is fitted to this row
    source: tuple[str, ...]  # (n,) what found it: "motion", ...
    reason: tuple[str, ...]  # (n,) why a row is not used; empty where it is
