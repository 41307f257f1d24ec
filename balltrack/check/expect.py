"""How well swings will be measured in clips such as one: the statistical limit, in sunshine and under lamps."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from balltrack.check.look import Look
from balltrack.field import Ball
from balltrack.planning.hits import USUAL_SPEED_MPS, Expected
from balltrack.planning.outlook import Outlook, outlook
from balltrack.planning.phone import Phone
from balltrack.planning.scene import Ground, scene_of
from balltrack.units import M_PER_FT

PLACE_M = np.array([0.0, -6.0, 1.5])  # of the lens: straight behind the plate, where a first lesson is filmed
BASE_PATH_M = 65 * M_PER_FT
HITS = 6  # that stand for all
SUN_S, LAMPS_S = 1 / 1000, 1 / 120  # how long phones open the shutter; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """What to expect of a clip's swings, filmed from `PLACE_M`; one sd each."""

    sun: Outlook
    lamps: Outlook
    usual_mps: float  # the usual exit speed


def prospect(look: Look, ball: Ball) -> Prospect:
    """Judge a clip by its size and rate. The lens is taken to be known from the marks alone.

    An upright picture is judged by its short side, as if it were turned.
    """
    info = look.info
    return _prospect(min(info.size_px), info.nominal_fps, ball)


@lru_cache(maxsize=64)
def _prospect(lines: int, fps: float, ball: Ball) -> Prospect:
    speed_mps, sd_mps = USUAL_SPEED_MPS.get(ball.kind, USUAL_SPEED_MPS["softball-12"])
    expected, ground = Expected(speed_mps=speed_mps, speed_sd_mps=sd_mps), Ground(ball, BASE_PATH_M, None)
    found = []
    for shutter_s in (SUN_S, min(LAMPS_S, 1 / fps)):
        phone = Phone(lines=lines, frames_per_s=fps, shutter_s=shutter_s)
        found.append(outlook(PLACE_M, scene_of(phone, ground, expected, HITS)))
    return Prospect(found[0], found[1], speed_mps)
