"""How well the ball was found, frame by frame, whatever was then made of it."""

import csv
import itertools
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.units import Floats
from bench.truth import TruthRows

SMALLEST_SOUGHT_PX = 4.0
NEAR_PX, NEAR_SHARE = 1.5, 0.1  # a find lies within 1.5 px and a tenth of the diameter of the truth
CLASSES_PX = (0.0, 4.0, 8.0, 16.0, 32.0, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class UsedRows:
    """The rows of a result track that the flight was fitted to."""

    pts_s: Floats  # (m,) the frame's own timestamp
    centre_px: Floats  # (m, 2)


@dataclass(frozen=True, slots=True, eq=False)
class Detection:
    """Of one clip, or of many together."""

    sought: int  # true rows of a clear flight, large enough
    found: int  # of these
    used: int  # rows that flights were fitted to
    right: int  # of these, those that lie on the flying ball
    diameter_px: Floats  # (k,) true size, of used rows whose frame truly shows the flying ball
    error_px: Floats  # (k,) their distance from the true centre


NOTHING = Detection(0, 0, 0, 0, np.zeros(0), np.zeros(0))


def read_used(path: Path, readout_s: float, height_px: int) -> UsedRows:
    """Used rows of results/tracks/...csv. ``readout_s`` is the solved camera's, which their times hold."""
    if not path.is_file():
        return UsedRows(np.zeros(0), np.zeros((0, 2)))
    with path.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["used"] == "1"]
    time_s = np.array([float(row["time_s"]) for row in rows])
    centre = np.array([[float(row["u_px"]), float(row["v_px"])] for row in rows]).reshape(-1, 2)
    return UsedRows(time_s - readout_s * np.clip(centre[:, 1], 0, height_px) / height_px, centre)


def detection(truth: TruthRows, used: UsedRows, frame_s: float) -> Detection:
    """Pair rows of the same frame, nearest in time within half a frame, and count."""
    flying = np.flatnonzero(truth.phase == "flight")
    sought = truth.clear_flight & (truth.diameter_px >= SMALLEST_SOUGHT_PX)
    if not len(flying) or not len(used.pts_s):
        return Detection(int(sought.sum()), 0, len(used.pts_s), 0, np.zeros(0), np.zeros(0))
    apart_s = np.abs(truth.pts_s[flying][None] - used.pts_s[:, None])
    paired = apart_s.min(axis=1) < 0.5 * frame_s
    partner = flying[apart_s.argmin(axis=1)][paired]
    error = np.linalg.norm(used.centre_px[paired] - truth.centre_px[partner], axis=1)
    near = error <= NEAR_PX + NEAR_SHARE * truth.diameter_px[partner]
    found = np.zeros(len(truth.pts_s), dtype=bool)
    found[partner[near]] = True
    return Detection(
        sought=int(sought.sum()),
        found=int((found & sought).sum()),
        used=len(used.pts_s),
        right=int(near.sum()),
        diameter_px=truth.diameter_px[partner],
        error_px=error,
    )


def together(parts: list[Detection]) -> Detection:
    """Counts of many clips."""
    return Detection(
        sought=sum(part.sought for part in parts),
        found=sum(part.found for part in parts),
        used=sum(part.used for part in parts),
        right=sum(part.right for part in parts),
        diameter_px=np.concatenate([part.diameter_px for part in [NOTHING, *parts]]),
        error_px=np.concatenate([part.error_px for part in [NOTHING, *parts]]),
    )


def by_size(whole: Detection) -> list[tuple[str, int, float]]:
    """Name, rows and median distance from the true centre [px] of each class of size that has rows."""
    out = []
    for low, high in itertools.pairwise(CLASSES_PX):
        among = (whole.diameter_px >= low) & (whole.diameter_px < high)
        if among.any():
            name = f"{low:.0f} px and more" if np.isinf(high) else f"{low:.0f} to {high:.0f} px"
            out.append((name, int(among.sum()), float(np.median(whole.error_px[among]))))
    return out
