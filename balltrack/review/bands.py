"""What counts as a ground ball, as hit hard, as met early: stated here once, and every number may be another."""

from dataclasses import dataclass
from math import inf
from statistics import NormalDist
from typing import Literal

from balltrack.field import PLATE_HALF_M
from balltrack.lesson import Delivery
from balltrack.records.describe import FLY_BALL_DEG, GROUND_BALL_DEG, LINE_DRIVE_DEG
from balltrack.records.swing import FlightKind, Swing
from balltrack.units import M_PER_IN

Timing = Literal["early", "on time", "late", "jammed", "not clear"]
TIMINGS: tuple[Timing, ...] = ("early", "on time", "late", "jammed", "not clear")
FLIGHTS: tuple[FlightKind, ...] = ("ground_ball", "line_drive", "fly_ball", "pop_up")
FOUL_DEG = 45.0  # the foul lines, left and right of second base
SURE = 0.9  # a word on the contact is said only where it holds nine times in ten
Zone = tuple[float, float]  # contact depth from .. to, ahead of the plate's front edge [m]


@dataclass(frozen=True, slots=True)
class Bands:
    """Where the words change. All are common practice without one source; give others for another school.

    The zones say how far ahead of the plate's front edge a ball is usually met: an inside pitch further ahead, an
    outside pitch deeper. Only that order is found in print; the numbers are judgement.
    """

    ground_ball_deg: float = GROUND_BALL_DEG  # below it: a ground ball
    line_drive_deg: float = LINE_DRIVE_DEG  # below it: a line drive
    fly_ball_deg: float = FLY_BALL_DEG  # up to it: a fly ball; above: a pop-up
    hard_share: float = 0.9  # of the player's own top speed
    well_low_deg: float = GROUND_BALL_DEG  # hit hard and launched from here ..
    well_high_deg: float = 30.0  # .. to here: well hit
    inside_m: Zone = (4 * M_PER_IN, 18 * M_PER_IN)
    middle_m: Zone = (-2 * M_PER_IN, 12 * M_PER_IN)
    outside_m: Zone = (-10 * M_PER_IN, 6 * M_PER_IN)

    def flight(self, launch_deg: float) -> FlightKind:
        """The name of a launch angle."""
        if launch_deg < self.ground_ball_deg:
            return "ground_ball"
        if launch_deg < self.line_drive_deg:
            return "line_drive"
        return "fly_ball" if launch_deg <= self.fly_ball_deg else "pop_up"


def timing(swing: Swing, delivery: Delivery | None, bats: str, zones: Bands | Zone) -> Timing | None:
    """Whether the ball was met early, on time or late, as far as the measured contact can tell.

    "Jammed" is late on an inside pitch. The word is "not clear" unless it holds nine times in ten, errors of the
    contact counted as normal and those of its two directions as apart from one another.

    Parameters
    ----------
    swing : Swing
    delivery : "tee", "toss", "live" or None
        A tee's ball lies where the coach put it: its depth says nothing about timing.
    bats : str
        "right" or "left".
    zones : Bands, or (from, to) in metres
        The usual zones by inside, middle and outside pitch, or one zone for all: the player's own.

    Returns
    -------
    Timing, or None
        None off a tee, and where the contact or its uncertainty is not known.
    """
    if delivery == "tee" or swing.contact_m is None or swing.contact_sd_m is None or swing.contact_depth_m is None:
        return None
    inward = NormalDist(swing.contact_m[0] * (-1 if bats == "right" else 1), max(swing.contact_sd_m[0], 1e-6))
    depth = NormalDist(swing.contact_depth_m, max(swing.contact_sd_m[1], 1e-6))
    early = behind = jammed = 0.0
    for (low_m, high_m), (from_m, to_m), is_inside in _thirds(zones):
        share = inward.cdf(to_m) - inward.cdf(from_m)
        early += share * (1 - depth.cdf(high_m))
        behind += share * depth.cdf(low_m)
        jammed += share * depth.cdf(low_m) * is_inside
    if early >= SURE:
        return "early"
    if behind >= SURE:
        return "jammed" if jammed > behind / 2 else "late"
    return "on time" if 1 - early - behind >= SURE else "not clear"


def _thirds(zones: Bands | Zone) -> list[tuple[Zone, Zone, bool]]:
    """Depth zone, the pitches for which it holds (toward the batter from .. to [m]), and whether those are inside."""
    edge_m = PLATE_HALF_M / 3
    outside, middle, inside = (
        (zones.outside_m, zones.middle_m, zones.inside_m) if isinstance(zones, Bands) else (zones, zones, zones)
    )
    return [(outside, (-inf, -edge_m), False), (middle, (-edge_m, edge_m), False), (inside, (edge_m, inf), True)]
