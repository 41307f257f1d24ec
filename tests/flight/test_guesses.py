"""The tracker's guessed flights against scipy's integrator and the flight room itself."""

import pickle

import numpy as np
import pytest
from pytest import approx
from scipy.integrate import solve_ivp

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.field import Ball
from balltrack.flight.evidence import Setting
from balltrack.flight.guesses import usual_flight, usual_launch
from balltrack.units import Floats
from tests.flight.simulated import BALL_DIAMETER_M, BALL_MASS_KG, DENSITY, SET_UPS, true_camera

DRAG = 0.33
LAUNCHES = np.array(
    [
        [0.0, 0.6, 0.9, 5.0, 30.0, 10.0, 0.0, 0.0],
        [0.1, 0.5, 0.8, -12.0, 20.0, -1.0, 0.0, 0.0],
        [0.0, 0.6, 0.9, 0.0, 8.0, 22.0, 0.0, 0.0],
    ]
)


def setting(wind_mps: tuple[float, float] = (0.0, 0.0)) -> Setting:
    ball = Ball(BALL_DIAMETER_M, diameter_sd_m=0.0006, mass_kg=BALL_MASS_KG, mass_sd_kg=0.004, drag=DRAG, drag_sd=0.04)
    camera = Camera(true_camera(SET_UPS["behind"]), np.eye(11), (1920, 1080))
    return Setting(camera, ball, Air(density_kg_m3=DENSITY, temperature_c=20.0, wind_mps=wind_mps))


def by_scipy(launch: Floats, times_s: Floats, wind_mps: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """Drag alone: a = -k |v - w| (v - w) - g, k = rho Cd A / 2m."""
    k = DENSITY * DRAG * np.pi * BALL_DIAMETER_M**2 / 8 / BALL_MASS_KG

    def rhs(_t: float, y: Floats) -> Floats:
        through_air = y[3:] - [*wind_mps, 0.0]
        return np.concatenate([y[3:], -k * np.linalg.norm(through_air) * through_air - [0.0, 0.0, 9.80665]])

    ahead = solve_ivp(
        rhs, (0, max(times_s.max(), 0.01)), launch[:6], "DOP853", rtol=1e-10, atol=1e-10, dense_output=True
    )
    back = solve_ivp(
        rhs, (0, min(times_s.min(), -0.01)), launch[:6], "DOP853", rtol=1e-10, atol=1e-10, dense_output=True
    )
    assert ahead.sol is not None and back.sol is not None
    return np.array([(ahead.sol if t >= 0 else back.sol)(t) for t in times_s])


@pytest.mark.parametrize("wind_mps", [(0.0, 0.0), (2.0, -3.0)])
def test_guessed_flights_without_lift_agree_with_scipy_forward_and_back(wind_mps: tuple[float, float]) -> None:
    times_s = np.array([-0.35, -0.1, 0.0, 0.03, 0.4, 1.0, 2.0])
    places, velocities = usual_flight(setting(wind_mps))(LAUNCHES, np.tile(times_s, (len(LAUNCHES), 1)))
    for launch, place, velocity in zip(LAUNCHES, places, velocities, strict=True):
        truth = by_scipy(launch, times_s, wind_mps)
        assert place == approx(truth[:, :3], abs=5e-3)  # 5 mm: a twentieth of a ball
        assert velocity == approx(truth[:, 3:], abs=0.05)  # of 30 m/s


def test_every_launch_may_have_its_own_times() -> None:
    fly = usual_flight(setting())
    times_s = np.array([[0.1, 0.2], [0.3, 0.5], [0.7, 1.1]])
    together, _ = fly(LAUNCHES, times_s)
    assert together.shape == (3, 2, 3)
    for row in range(3):
        alone, _ = fly(LAUNCHES[row : row + 1], times_s[row : row + 1])
        assert together[row] == approx(alone[0], abs=2e-3)  # on other knots


def test_lift_up_lifts_and_lift_aside_bends_toward_right_field() -> None:
    fly, times_s = usual_flight(setting()), np.full((1, 1), 1.0)
    plain = fly(LAUNCHES[:1], times_s)[0][0, 0]
    lifted, bent = LAUNCHES[:1].copy(), LAUNCHES[:1].copy()
    lifted[0, 6], bent[0, 7] = 0.2, 0.2
    assert fly(lifted, times_s)[0][0, 0, 2] > plain[2] + 0.5
    right = np.array([30.0, -5.0, 0.0]) / np.hypot(30.0, 5.0)  # to the right of the direction (5, 30)
    assert (fly(bent, times_s)[0][0, 0] - plain) @ right > 0.5


def test_times_long_before_contact_are_held_so_that_no_guess_flies_to_infinity() -> None:
    places, _ = usual_flight(setting())(LAUNCHES, np.full((3, 1), -30.0))
    assert np.all(np.isfinite(places))
    assert places == approx(usual_flight(setting())(LAUNCHES, np.full((3, 1), -0.4))[0])


def test_the_flight_travels_to_a_worker_process() -> None:
    fly = usual_flight(setting())
    times_s = np.full((3, 1), 0.5)
    assert pickle.loads(pickle.dumps(fly))(LAUNCHES, times_s)[0] == approx(fly(LAUNCHES, times_s)[0])


def test_an_arc_of_the_tracker_becomes_a_launch_to_start_from() -> None:
    arc = np.array([0.1, 0.6, 0.9, 5.0, 30.0, 10.0, 1.23, 0.15, -0.05])
    launch = usual_launch(arc, setting())
    assert launch.position_m == approx([0.1, 0.6, 0.9])
    assert launch.velocity_mps == approx([5.0, 30.0, 10.0])
    assert (launch.drag, launch.lift_up, launch.lift_side) == approx((DRAG, 0.15, -0.05))
