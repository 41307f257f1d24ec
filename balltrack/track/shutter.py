"""How long the shutter was open, as the streaks of a followed ball tell."""

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats

FAST_SHARE = 0.5  # of the fastest row's speed in widths: slower rows tell less, and are not asked
FEWEST_ROWS = 4
# A sharp ball, too, is matched by a streak of up to 0.3 of its width: seams, shade and compression look like motion
# (seen in rendered clips). A longer one is motion, where the rows agree: by the quartiles of what each tells.
CLEAR_STREAK, AGREE_SHARE = 0.4, 0.25


def told_exposure_s(streak_px: Floats, width_px: Floats, speed_pxps: Floats) -> float | None:
    """The shutter time on which the rows of a track agree; None where their streaks are too short to tell.

    Parameters
    ----------
    streak_px : (n,) array
        How far the ball was drawn out in each frame.
    width_px : (n,) array
        Its width.
    speed_pxps : (n,) array
        How fast it moved in the picture.
    """
    fast = _fast(width_px, speed_pxps)
    if fast.sum() < FEWEST_ROWS:
        return None
    low_s, exposure_s, high_s = np.quantile(streak_px[fast] / speed_pxps[fast], (0.25, 0.5, 0.75))
    clear = np.median(streak_px[fast] / width_px[fast]) >= CLEAR_STREAK
    return float(exposure_s) if clear and high_s - low_s <= AGREE_SHARE * exposure_s else None


def likely_exposure_s(streak_px: Floats, width_px: Floats, speed_pxps: Floats) -> float | None:
    """The shutter time that the middle one of the fastest rows tells; None where the ball does not move.

    Arguments are those of `told_exposure_s`. All of these rows are asked, not those alone that show a streak: else a
    few that took a bat or a shadow for part of the ball speak for all.
    """
    fast = _fast(width_px, speed_pxps)
    return float(np.median(streak_px[fast] / speed_pxps[fast])) if fast.any() else None


def _fast(width_px: Floats, speed_pxps: Floats) -> NDArray[np.bool_]:
    """(n,) which rows show the ball so fast that their streaks tell."""
    pace = speed_pxps / width_px
    return np.asarray((pace > 0) & (pace >= FAST_SHARE * np.max(pace, initial=0.0)))
