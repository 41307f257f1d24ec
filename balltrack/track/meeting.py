"""Which candidate lies on which arc in which frame, number by number: compiled, for every guess meets every frame.

Arrays are contiguous, of 64-bit numbers. A kernel calls and uses only what stands in its own file: what is kept of it
from run to run is compiled anew when this file changes.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.units import Floats

GATE = 3.5  # standard deviations
DETECTED = 0.75  # chance that a ball in plain sight becomes a candidate
UNSURE_PX = 60.0  # a guess that is vaguer than this at some time gathers nothing there


class Foreseen(NamedTuple):
    """Where arcs s would be seen in frames m, and how surely."""

    looked: NDArray[np.bool_]  # (s, m) whether the arc is asked there
    centre_px: Floats  # (s, m, 2)
    width_px: Floats  # (s, m)
    spread_px2: Floats  # (s, m, 2, 2)
    centre_sd_px: Floats  # (s, m) of a candidate of that width
    width_sd_log: Floats  # (s, m)


class Found(NamedTuple):
    """All candidates, frame after frame."""

    first: NDArray[np.int64]  # (m,) row of each frame's first
    end: NDArray[np.int64]  # (m,) and one past its last
    centre_px: Floats  # (n, 2)
    log_width: Floats  # (n,)
    log_clutter: Floats  # (n,) chance candidates per square pixel


@compiled
def met(foreseen: Foreseen, found: Found) -> tuple[NDArray[np.int64], Floats]:
    """The best candidate's row (s, m), -1 where none, and the log likelihood ratio gained or lost (s, m)."""
    count, frames = foreseen.width_px.shape
    index, gain = np.full((count, frames), -1), np.zeros((count, frames))
    for k in range(count):
        for m in range(frames):
            uu, vv = foreseen.spread_px2[k, m, 0, 0], foreseen.spread_px2[k, m, 1, 1]
            uv, size = foreseen.spread_px2[k, m, 0, 1], uu + vv
            # Written so that what is no number is vague.
            if not (foreseen.looked[k, m] and np.isfinite(uv) and size <= UNSURE_PX * UNSURE_PX):
                continue
            noise = foreseen.centre_sd_px[k, m] ** 2 + 1e-9 * size
            uu, vv = uu + noise, vv + noise
            det = uu * vv - uv * uv
            log_peak = -np.log(2 * np.pi) - 0.5 * np.log(max(det, 1e-9))
            gain[k, m] = np.log(1.0 - DETECTED)
            for row in range(found.first[m], found.end[m]):
                du = found.centre_px[row, 0] - foreseen.centre_px[k, m, 0]
                dv = found.centre_px[row, 1] - foreseen.centre_px[k, m, 1]
                distance_sq = (vv / det * du - 2 * uv / det * dv) * du + uu / det * dv * dv
                if not distance_sq < GATE * GATE:
                    continue
                width = (found.log_width[row] - np.log(foreseen.width_px[k, m])) / foreseen.width_sd_log[k, m]
                # Width counts against a flat spread of chance widths over about e^2.
                worth = log_peak - 0.5 * distance_sq - 0.5 * width * width + 0.5 - found.log_clutter[row]
                worth += np.log(DETECTED)
                beats = worth >= gain[k, m] if index[k, m] >= 0 else worth > gain[k, m]
                if abs(width) < GATE and beats:
                    index[k, m], gain[k, m] = row, worth
    return index, gain
