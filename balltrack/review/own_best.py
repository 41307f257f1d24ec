"""What this player's own good swings look like: the yardstick for hard and well hit."""

from dataclasses import dataclass

import numpy as np

from balltrack.records.swing import Swing
from balltrack.review.bands import FOUL_DEG, Bands, Zone
from balltrack.review.groups import Group

FEWEST_HITS = 5  # below it a player's own distribution is not to be had
FASTEST = 3  # the top speed is the median of so many: one wrong reading cannot set it
ZONE_PER_CENT = (10.0, 90.0)  # the player's own zone holds so much of the well-hit balls' contacts


@dataclass(frozen=True, slots=True)
class OwnBest:
    """How fast this player can hit, and where the well-hit balls were met."""

    top_mps: float
    top_numbers: tuple[int, ...]  # of the swings that set it
    hard_mps: float  # from here a ball is hit hard
    low_deg: float  # hard, fair and launched from here ..
    high_deg: float  # .. to here: well hit
    zone_m: Zone | None  # contact depth of well-hit tossed and live balls; None where fewer than five are known
    zone_numbers: tuple[int, ...]

    def is_hard(self, swing: Swing) -> bool:
        return swing.exit_speed_mps is not None and swing.exit_speed_mps >= self.hard_mps

    def is_well_hit(self, swing: Swing) -> bool:
        """Hard, launched well, and within the foul lines as it left the bat."""
        if not self.is_hard(swing) or swing.launch_deg is None or swing.spray_deg is None:
            return False
        return self.low_deg <= swing.launch_deg <= self.high_deg and abs(swing.spray_deg) <= FOUL_DEG


def own_best(group: Group, bands: Bands) -> OwnBest | None:
    """The yardstick from a group's own hits: the whole lesson, or all lessons of the player. None below five hits.

    Hits of poor quality do not set the top speed where others are there: their errors would reach above it.
    """
    hits = [
        (swing.exit_speed_mps, number, swing.quality != "poor")
        for swing, number in zip(group.swings, group.numbers, strict=True)
        if swing.exit_speed_mps is not None
    ]
    if len(hits) < FEWEST_HITS:
        return None
    sure = [hit for hit in hits if hit[2]]
    fastest = sorted(sure if len(sure) >= FASTEST else hits, reverse=True)[:FASTEST]
    top_mps = float(np.median([speed_mps for speed_mps, _, _ in fastest]))
    numbers = tuple(sorted(number for _, number, _ in fastest))
    hard_mps = bands.hard_share * top_mps
    best = OwnBest(top_mps, numbers, hard_mps, bands.well_low_deg, bands.well_high_deg, None, ())
    zone_m, zone_numbers = _own_zone(group, best)
    return OwnBest(top_mps, numbers, hard_mps, bands.well_low_deg, bands.well_high_deg, zone_m, zone_numbers)


def _own_zone(group: Group, best: OwnBest) -> tuple[Zone | None, tuple[int, ...]]:
    met = [
        (swing.contact_depth_m, number)
        for swing, number, delivery in zip(group.swings, group.numbers, group.deliveries, strict=True)
        if delivery != "tee" and swing.contact_depth_m is not None and best.is_well_hit(swing)
    ]
    if len(met) < FEWEST_HITS:
        return None, ()
    low_m, high_m = np.percentile([depth_m for depth_m, _ in met], ZONE_PER_CENT)
    return (float(low_m), float(high_m)), tuple(number for _, number in met)
