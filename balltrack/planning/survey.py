"""The map of expected error over places round the plate, and the best safe one."""

from dataclasses import dataclass

import numpy as np

from balltrack.errors import PlanError
from balltrack.planning.outlook import Outlook, outlook
from balltrack.planning.safety import SafeZones
from balltrack.planning.scene import Scene
from balltrack.records.describe import FEW_FRAMES
from balltrack.units import Floats

DISTANCES_M = np.array([3.6, 4.6, 5.8, 7.3, 9.2, 11.5])
BEARING_STEP_RAD = np.radians(12.0)
HEIGHTS_M = (1.0, 1.5, 2.0)  # of the lens, on a tripod
TRIED_AT = ((5.0, 0.0), (5.0, -0.8), (5.0, 0.8), (8.0, 0.0))  # distance and bearing at which heights are compared
USUAL_HEIGHT_M = 1.5
# So much better a place must be to be worth going further away, or to another height than usual: people, fences and
# dust come between, and chalk is marked less easily (judgement, no source).
WORTH_IT = 0.15
STEPS = ((0.6, np.radians(8.0)), (0.3, np.radians(4.0)))  # of distance and bearing, round the best place of the map


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Places judged at one height, on a fan round the plate, and the place recommended."""

    distance_m: Floats  # (d,)
    bearing_rad: Floats  # (b,) 0 straight behind the plate, positive toward first base
    exit_speed_sd_mps: Floats  # (b, d) NaN where hits cannot be measured
    share: Floats  # (b, d)
    best: Outlook

    @property
    def places_m(self) -> Floats:
        """(b, d, 2)"""
        bearing, distance = np.meshgrid(self.bearing_rad, self.distance_m, indexing="ij")
        return np.stack([distance * np.sin(bearing), -distance * np.cos(bearing)], axis=-1)


def survey(scene: Scene, zones: SafeZones) -> Survey:
    """Judge all places, then look more closely round the best safe one.

    Raises
    ------
    PlanError
        If hits can be measured from no safe place.
    """
    height_m = _best_height_m(scene)
    bearings = bearings_rad(zones)
    judged = [[_judge(bearing, distance, height_m, scene) for distance in DISTANCES_M] for bearing in bearings]
    safe = [each for row in judged for each in row if not zones.unsafe(each.place_m[:2])]
    best = _nearest_good(safe)
    if not best.share > 0:
        raise PlanError(
            f"from no safe place do the hits stay in the picture for {FEW_FRAMES} frames; take a wider lens or more "
            "frames a second, or move what stops the ball further away"
        )
    return Survey(
        DISTANCES_M,
        bearings,
        np.array([[each.exit_speed_sd_mps for each in row] for row in judged]),
        np.array([[each.share for each in row] for row in judged]),
        _finer(best, scene, zones),
    )


def bearings_rad(zones: SafeZones) -> Floats:
    """(b,) from one edge of where one may stand to the other, and a step beyond, so that the map has no bare rim."""
    steps = int(np.ceil(zones.widest_rad / BEARING_STEP_RAD)) + 1
    return np.asarray(BEARING_STEP_RAD * np.arange(-steps, steps + 1))


def _judge(bearing_rad: float, distance_m: float, height_m: float, scene: Scene) -> Outlook:
    place = np.array([distance_m * np.sin(bearing_rad), -distance_m * np.cos(bearing_rad), height_m])
    return outlook(place, scene)


def _best_height_m(scene: Scene) -> float:
    """The height that does best at a few places, if it is worth leaving the usual one."""
    costs = {
        height: sum(_judge(bearing, distance, height, scene).cost for distance, bearing in TRIED_AT)
        for height in HEIGHTS_M
    }
    best = min(HEIGHTS_M, key=lambda height: costs[height])
    return best if costs[best] < (1 - WORTH_IT) * costs[USUAL_HEIGHT_M] else USUAL_HEIGHT_M


def _nearest_good(places: list[Outlook]) -> Outlook:
    """The nearest of the places that are about as good as the best."""
    least = min(each.cost for each in places)
    good = [each for each in places if each.cost <= (1 + WORTH_IT) * least]
    return min(good, key=lambda each: (round(float(np.hypot(*each.place_m[:2])), 3), each.cost))


def _finer(best: Outlook, scene: Scene, zones: SafeZones) -> Outlook:
    """The best safe place in ever smaller steps round one that is good already, no further from the plate."""
    for by_m, by_rad in STEPS:
        x, y, height_m = best.place_m
        distance, bearing = float(np.hypot(x, y)), float(np.arctan2(x, -y))
        near = [(bearing + i * by_rad, distance - j * by_m) for i in (-1, 0, 1) for j in (0, 1) if i or j]
        tried = [_judge(each, away, height_m, scene) for each, away in near]
        best = _nearest_good([best, *(each for each in tried if not zones.unsafe(each.place_m[:2]))])
    return best
