"""The numbers that are judged, in a reader's units, always in the same order."""

from dataclasses import dataclass

import numpy as np

from balltrack.records.swing import Swing
from balltrack.units import MPS_PER_MPH, Floats
from bench.truth import TruthSwing


@dataclass(frozen=True, slots=True)
class Quantity:
    """A judged number's name, unit and decimals."""

    name: str
    unit: str
    decimals: int


QUANTITIES = (
    Quantity("exit speed", "mph", 2),
    Quantity("launch", "deg", 2),
    Quantity("spray", "deg", 2),
    Quantity("contact depth", "cm", 1),
    Quantity("contact height", "cm", 1),
    Quantity("carry", "m", 2),
    Quantity("tail", "m", 2),
)
SPRAY = 2
CM_PER_M = 100.0


def true_values(truth: TruthSwing) -> Floats:
    """(7,) of a hit."""
    f = truth.fields
    return np.array(
        [
            f["exit_speed_mps"] / MPS_PER_MPH,
            f["launch_deg"],
            f["spray_deg"],
            f["contact_depth_m"] * CM_PER_M,
            f["contact_m"][2] * CM_PER_M,
            f["carry_m"],
            f["tail_m"],
        ]
    )


def values(swing: Swing) -> Floats:
    """(7,) of a measured swing, NaN where the record has none."""
    depth, contact = swing.contact_depth_m, swing.contact_m
    return _numbers(
        swing.exit_speed_mps and swing.exit_speed_mps / MPS_PER_MPH,
        swing.launch_deg,
        swing.spray_deg,
        None if depth is None else depth * CM_PER_M,
        None if contact is None else contact[2] * CM_PER_M,
        swing.carry_m,
        swing.tail_m,
    )


def stated_sds(swing: Swing) -> Floats:
    """(7,) one sd of each, as the record states it."""
    spot = swing.contact_sd_m
    return _numbers(
        swing.exit_speed_sd_mps and swing.exit_speed_sd_mps / MPS_PER_MPH,
        swing.launch_sd_deg,
        swing.spray_sd_deg,
        None if spot is None else spot[1] * CM_PER_M,
        None if spot is None else spot[2] * CM_PER_M,
        swing.carry_sd_m,
        swing.tail_sd_m,
    )


def errors(found: Floats, true: Floats) -> Floats:
    """(7,) found minus true; directions the short way round."""
    off = found - true
    off[SPRAY] = (off[SPRAY] + 180.0) % 360.0 - 180.0
    return off


def nothing() -> Floats:
    """(7,) of a swing without numbers."""
    return np.full(len(QUANTITIES), np.nan)


def _numbers(*each: float | None) -> Floats:
    return np.array([np.nan if value is None else value for value in each])
