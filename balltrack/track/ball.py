"""The batted ball of one swing, frame by frame, in pixels."""

from dataclasses import dataclass, replace

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
    diameter_sd_px: Floats  # (n,) NaN where too small to be sized
    used: NDArray[np.bool_]  # (n,) whether the flight is fitted to this row
    source: tuple[str, ...]  # (n,) what found it: "motion", "network", "both" or "hand"
    reason: tuple[str, ...]  # (n,) why a row is not used; empty where it is
    exposure_s: float | None = None  # how long the shutter was open, by the ball's streaks; None where none tells


NO_TRACK = BallTrack(
    np.zeros(0), np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.bool_), (), ()
)
"""Of a swing whose ball was never seen."""


def without_outliers(track: BallTrack, outlier: NDArray[np.bool_]) -> BallTrack:
    """Mark the rows (n,) that do not lie on the fitted flight as not used."""
    reasons = tuple("off the flight" if off else reason for off, reason in zip(outlier, track.reason, strict=True))
    return replace(track, used=track.used & ~outlier, reason=reasons)
