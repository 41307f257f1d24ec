"""What a swing's record says of its pitch, and how it ended for the umpire."""

from dataclasses import replace

import numpy as np

from balltrack.flight.fit import FlightFit
from balltrack.flight.landing import FOUL_RAD, Landing
from balltrack.flight.pitch import Known, PitchNumbers
from balltrack.records.swing import Ended, Swing, Vector2

NINE_IN_TEN = 1.645  # standard deviations of a normal distribution to each side that hold 90 in 100
# A ball that lands nearer than this may still roll on past first or third base, which decides it: 60 to 90 ft.
BASES_M = 20.0


def with_pitch(swing: Swing, pitch: PitchNumbers | None) -> Swing:
    """The record with what was seen of its pitch."""
    if pitch is None:
        return swing
    known = pitch.speed_mps, pitch.apex_m, pitch.descent_deg, pitch.early_s
    speed, apex, descent, early = (each or (None, None) for each in known)
    plate, plate_sd = _both(pitch.plate_x_m, pitch.plate_z_m)
    off, off_sd = _both(pitch.aside_m, pitch.above_m)
    return replace(
        swing,
        pitch_speed_mps=speed[0],
        pitch_speed_sd_mps=speed[1],
        pitch_apex_m=apex[0],
        pitch_apex_sd_m=apex[1],
        pitch_descent_deg=descent[0],
        pitch_descent_sd_deg=descent[1],
        pitch_plate_m=plate,
        pitch_plate_sd_m=plate_sd,
        pitch_frames=pitch.frames,
        early_s=early[0],
        early_sd_s=early[1],
        contact_off_pitch_m=off,
        contact_off_pitch_sd_m=off_sd,
    )


def fair_or_foul(fit: FlightFit, landing: Landing) -> Ended | None:
    """Whether a hit is fair, by where it lands or, short of the bases, is bound; None where that is too close to call.

    A fielder's touch, a bounce off the plate and a roll across the line are not known of.
    """
    start, spot = fit.contact_m[:2], np.asarray(landing.landing_m)
    sd_rad = np.radians(fit.spray_sd_deg)
    if np.hypot(*spot) < BASES_M:
        ahead = spot - start if np.hypot(*(spot - start)) > 0.5 else np.asarray(fit.launch.velocity_mps)[:2]
        spot = start + BASES_M * ahead / max(float(np.hypot(*ahead)), 1e-9)
    else:
        across = np.array([spot[1], -spot[0]]) / np.hypot(*spot)
        sd_rad = float(np.sqrt(across @ landing.landing_cov_m2 @ across)) / np.hypot(*spot)
    inside_rad = FOUL_RAD - abs(float(np.arctan2(spot[0], spot[1])))
    if abs(inside_rad) < NINE_IN_TEN * sd_rad:
        return None
    return "fair" if inside_rad > 0 else "foul"


def _both(one: Known | None, other: Known | None) -> tuple[Vector2 | None, Vector2 | None]:
    """Two numbers as a vector, and their sds as another; none where one is missing."""
    if one is None or other is None:
        return None, None
    return (one[0], other[0]), (one[1], other[1])
