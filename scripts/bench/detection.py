"""How well the ball was found, frame by frame, whatever was then made of it."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats
from bench.truth import TruthRows

SMALLEST_SOUGHT_PX = 4.0
NEAR_PX, NEAR_SHARE = 1.5, 0.1  # a find lies within 1.5 px and a tenth of the diameter of the truth


@dataclass(frozen=True, slots=True, eq=False)
class UsedRows:
    """The rows of a result track that the flight was fitted to."""

    pts_s: Floats  # (m,) the frame's own timestamp
    centre_px: Floats  # (m, 2)


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """Of one hit or of many: frames that truly show the batted ball flying, and what was found there."""

    diameter_px: Floats  # (n,) true
    blur: Floats  # (n,) streak in diameters
    contrast: Floats  # (n,) codes of 255
    sought: NDArray[np.bool_]  # (n,) clear and at least SMALLEST_SOUGHT_PX: ought to be found
    error_px: Floats  # (n,) distance of a used row from the true centre, NaN where the frame gave none
    stray: int  # used rows of frames in which no batted ball flies

    @property
    def used(self) -> NDArray[np.bool_]:
        """(n,) frames that the flight was fitted to."""
        return np.isfinite(self.error_px)

    @property
    def right(self) -> NDArray[np.bool_]:
        """(n,) used, and on the ball."""
        return self.used & (np.nan_to_num(self.error_px) <= NEAR_PX + NEAR_SHARE * self.diameter_px)

    def among(self, chosen: NDArray[np.bool_]) -> "Sightings":
        """Some of the frames; strays are of no frame."""
        return Sightings(
            self.diameter_px[chosen], self.blur[chosen], self.contrast[chosen], self.sought[chosen],
            self.error_px[chosen], 0,
        )  # fmt: skip


def no_sightings(stray: int = 0) -> Sightings:
    """Of a swing without a batted ball."""
    none = np.zeros(0)
    return Sightings(none, none, none, np.zeros(0, dtype=np.bool_), none, stray)


def read_used(path: Path, readout_s: float, height_px: int) -> UsedRows:
    """Used rows of results/tracks/...csv. ``readout_s`` is the solved camera's, which their times hold."""
    if not path.is_file():
        return UsedRows(np.zeros(0), np.zeros((0, 2)))
    with path.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["used"] == "1"]
    time_s = np.array([float(row["time_s"]) for row in rows])
    centre = np.array([[float(row["u_px"]), float(row["v_px"])] for row in rows]).reshape(-1, 2)
    return UsedRows(time_s - readout_s * np.clip(centre[:, 1], 0, height_px) / height_px, centre)


def sightings(truth: TruthRows, used: UsedRows, frame_s: float) -> Sightings:
    """Pair rows of the same frame, nearest in time within half a frame."""
    flying = np.flatnonzero(truth.phase == "flight")
    if not len(flying):
        return no_sightings(len(used.pts_s))
    error, stray = np.full(len(truth.pts_s), np.nan), 0
    for pts_s, centre_px in zip(used.pts_s, used.centre_px, strict=True):
        partner = flying[np.argmin(np.abs(truth.pts_s[flying] - pts_s))]
        if abs(truth.pts_s[partner] - pts_s) < 0.5 * frame_s:
            error[partner] = np.linalg.norm(centre_px - truth.centre_px[partner])
        else:
            stray += 1
    sought = truth.clear_flight & (truth.diameter_px >= SMALLEST_SOUGHT_PX)
    kept = sought | np.isfinite(error)
    return Sightings(
        truth.diameter_px[kept], truth.blur[kept], truth.contrast[kept], sought[kept], error[kept], stray
    )  # fmt: skip


def together(parts: Sequence[Sightings]) -> Sightings:
    """Those of many hits."""
    parts = [no_sightings(), *parts]
    return Sightings(
        diameter_px=np.concatenate([part.diameter_px for part in parts]),
        blur=np.concatenate([part.blur for part in parts]),
        contrast=np.concatenate([part.contrast for part in parts]),
        sought=np.concatenate([part.sought for part in parts]),
        error_px=np.concatenate([part.error_px for part in parts]),
        stray=sum(part.stray for part in parts),
    )
