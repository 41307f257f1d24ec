"""Slow-pitch arcs as tabulated: the height of the top, the time, the speed at the hand, the angle at the plate."""

import numpy as np
import pytest

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.field import PLATE_DEPTH_M, ball_of_kind
from balltrack.flight.evidence import SCALE, ContactPrior, Setting
from balltrack.flight.fit import FlightFit
from balltrack.flight.pitch import pitch_numbers
from balltrack.track.ball import BallTrack
from balltrack.units import M_PER_FT, MPS_PER_MPH

# A lob without drag, let go at 2.5 ft, that comes down on the plate 50 ft away: top [ft], time [s], speed at the hand
# [mph], angle downward [deg]. Computed outside the package, from the closed form of a fall without air.
ARCS = [(6, 1.077, 33.3, 22.9), (10, 1.471, 27.6, 36.7), (12, 1.632, 26.8, 42.2)]
RAISED_M = 0.5  # all of it is lifted by so much: a ball on the ground has not crossed the plate in the air


@pytest.mark.parametrize(("top_ft", "time_s", "speed_mph", "down_deg"), ARCS)
def test_a_slow_pitch_has_the_tabulated_top_speed_and_angle(
    top_ft: float, time_s: float, speed_mph: float, down_deg: float
) -> None:
    down_mps = np.sqrt(2 * 9.80665 * top_ft * M_PER_FT)
    flight = np.zeros(len(SCALE))
    flight[:7] = 0.0, PLATE_DEPTH_M, RAISED_M, 0.0, -50 * M_PER_FT / time_s, -down_mps, 2.0
    numbers = pitch_numbers(_known(flight), _seen_from(2.0 - time_s), _end(flight), _vacuum(), 15.24)
    assert numbers.apex_m is not None
    assert numbers.speed_mps is not None
    assert numbers.descent_deg is not None
    assert numbers.early_s is not None
    # The table is rounded to a millisecond, a tenth of a mile per hour and of a degree; a millisecond is 0.03 mph.
    assert (numbers.apex_m[0] - RAISED_M) / M_PER_FT == pytest.approx(top_ft, abs=0.01)
    assert numbers.speed_mps[0] / MPS_PER_MPH == pytest.approx(speed_mph, abs=0.1)
    assert numbers.descent_deg[0] == pytest.approx(down_deg, abs=0.1)
    assert numbers.early_s[0] == pytest.approx(0.0, abs=1e-6)


def _vacuum() -> Setting:
    camera = Camera(np.zeros(11), np.zeros((11, 11)), (1920, 1080))
    return Setting(camera, ball_of_kind("softball-12"), Air(0.0, 20.0, (0.0, 0.0)))


def _known(flight: np.ndarray) -> FlightFit:
    """A fit that is sure of a flight, to a millimetre, a millimetre a second and a tenth of a millisecond."""
    spread = np.diag((1e-3 * SCALE) ** 2)
    return FlightFit(flight, spread, np.zeros(11), np.zeros((2, 2)), np.zeros(2, dtype=bool), 2, 0.1, 1.0)


def _seen_from(first_s: float) -> BallTrack:
    one, two = np.ones(2), np.ones((2, 2))
    return BallTrack(np.array([first_s, 1.9]), two, two, one, one, np.ones(2, dtype=bool), ("", ""), ("", ""))


def _end(flight: np.ndarray) -> ContactPrior:
    return ContactPrior(2.0, 0.01, flight[:3], np.full(3, 1.0))
