"""Who stands at the plate, as bodies that hide the ball: upright cylinders."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.field import BOX_GAP_M, PLATE_HALF_M
from balltrack.planning.hits import Expected
from balltrack.units import Floats


@dataclass(frozen=True, slots=True)
class Body:
    """A person, hardly moving while the ball leaves."""

    x_m: float
    y_m: float
    radius_m: float
    height_m: float


def bodies(expected: Expected) -> tuple[Body, ...]:
    """The batter, and a catcher where the ball is pitched (sizes of grown people, common practice, no source)."""
    side = -1.0 if expected.bats == "right" else 1.0  # a right-handed batter stands on the catcher's left
    batter = Body(side * (PLATE_HALF_M + BOX_GAP_M + 0.45), 0.2, 0.28, 1.85)
    catcher = Body(0.0, -1.1, 0.35, 1.1)
    return (batter, catcher) if expected.delivery == "live" else (batter,)


def hidden(points_m: Floats, lens_m: Floats, people: tuple[Body, ...]) -> NDArray[np.bool_]:
    """(n,) bool: whether a body stands between the lens and each of (n, 3) points."""
    ways = points_m - lens_m
    level_sq = np.maximum(np.sum(ways[:, :2] ** 2, axis=1), 1e-9)
    blocked = np.zeros(len(points_m), dtype=bool)
    for body in people:
        toward = np.array([body.x_m, body.y_m]) - lens_m[:2]
        part = np.clip(ways[:, :2] @ toward / level_sq, 0.0, 1.0)  # of the way, where it passes the body closest
        miss_m = np.hypot(*(part[:, None] * ways[:, :2] - toward).T)
        blocked |= (miss_m < body.radius_m) & (lens_m[2] + part * ways[:, 2] < body.height_m) & (part < 1.0)
    return np.asarray(blocked)
