"""Where no tripod, and nobody who tends it, may stand. The rules of the field go first.

All is judged on the plan, without a wall: a backstop, a net or a screen that holds a batted ball changes it, and is
wanted everywhere else too.
"""

from dataclasses import dataclass
from math import radians

import numpy as np
from numpy.typing import NDArray

from balltrack.field import BASEBALL_BOX_M, BOX_GAP_M, PLATE_HALF_M, SOFTBALL_BOX_M
from balltrack.planning.hits import Side
from balltrack.units import Floats

# A bat of 34 in, arms, and a lean of the body; then a net with room to give, and room behind it (all common practice,
# no source).
BAT_REACH_M = 0.86 + 0.65 + 0.3
MARGIN_M = 1.0 + 1.0
# From the line to second base. Balls that are met late or early leave at up to 80 degrees, and what glances off the bat
# goes further round: all that is beside the plate needs a screen, and what is a little behind it too.
BESIDE_DEG = 120.0
FAIR_DEG = 60.0  # in front of the plate, foul lines and a margin: nobody, whatever stands there


@dataclass(frozen=True, slots=True)
class SafeZones:
    """Whom to keep clear of."""

    bats: Side
    ball_kind: str
    screen: bool  # that holds a batted ball stands between plate and phone

    @property
    def box_m(self) -> tuple[float, float, float, float]:
        """The batter's box: least x, greatest x, least y, greatest y."""
        width, front, back = BASEBALL_BOX_M if self.ball_kind == "baseball" else SOFTBALL_BOX_M
        inner = PLATE_HALF_M + BOX_GAP_M
        across = (-inner - width, -inner) if self.bats == "right" else (inner, inner + width)
        return *across, PLATE_HALF_M + back, PLATE_HALF_M + front

    def within_reach(self, places_m: Floats) -> NDArray[np.bool_]:
        """(...,) bool of (..., 2) places that a bat may reach, or that lie in the net's room."""
        left, right, back, front = self.box_m
        x, y = places_m[..., 0], places_m[..., 1]
        apart_m = np.hypot(
            np.maximum(np.maximum(left - x, x - right), 0), np.maximum(np.maximum(back - y, y - front), 0)
        )
        return np.asarray(apart_m < BAT_REACH_M + MARGIN_M)

    @property
    def widest_rad(self) -> float:
        """How far round from straight behind the plate one may stand."""
        return radians(180.0 - (FAIR_DEG if self.screen else BESIDE_DEG))

    def in_the_way(self, places_m: Floats) -> NDArray[np.bool_]:
        """(...,) bool of (..., 2) places that a batted ball may reach straight from the bat."""
        off_rad = np.abs(np.arctan2(places_m[..., 0], -places_m[..., 1]))
        return np.asarray(off_rad > self.widest_rad)

    def unsafe(self, places_m: Floats) -> NDArray[np.bool_]:
        """(...,) bool of (..., 2) places. [m]"""
        return np.asarray(self.within_reach(places_m) | self.in_the_way(places_m))
