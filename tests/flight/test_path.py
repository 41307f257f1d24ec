import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import solve_ivp

from balltrack.flight.motion import GRAVITY_MPS2
from balltrack.flight.path import Launch, Medium, fly, fly_to_ground
from balltrack.units import Floats

STILL = np.zeros(3)
K_PER_M = 0.0236  # a 12-inch softball in air of 1.2 kg/m³


def reference(launch: Launch, k: float, wind: Floats, times: Floats) -> Floats:
    """The same law written anew, integrated by scipy's DOP853 at rtol 1e-11."""
    v0 = np.asarray(launch.velocity_mps, dtype=float)
    side = np.array([v0[1], -v0[0], 0.0]) / np.hypot(v0[0], v0[1])
    up = np.cross(side, v0 / np.linalg.norm(v0))
    axis = np.asarray(launch.lift_up * side - launch.lift_side * up)
    speed0 = np.linalg.norm(v0 - wind)

    def rhs(_t: float, y: Floats) -> Floats:
        w = y[3:] - wind
        s = np.linalg.norm(w)
        a = -k * launch.drag * s * w + k * s * np.sqrt(speed0 / s) * np.cross(axis, w) - [0, 0, GRAVITY_MPS2]
        return np.concatenate([y[3:], a])

    start = np.concatenate([launch.position_m, v0])
    solved = solve_ivp(rhs, (0, times[-1]), start, method="DOP853", rtol=1e-11, atol=1e-11, t_eval=times)
    return np.asarray(solved.y[:3].T)


@pytest.mark.parametrize(
    ("velocity", "lift_up", "lift_side"),
    [((5.0, 30.0, 25.0), 0.25, 0.1), ((0.0, 45.0, 5.0), -0.2, -0.1), ((1.0, 2.0, 38.0), 0.3, 0.0)],
)
def test_five_seconds_agree_with_an_adaptive_solver_to_a_tenth_of_a_millimetre(
    velocity: tuple[float, float, float], lift_up: float, lift_side: float
) -> None:
    launch = Launch(np.array([0.1, 0.7, 0.9]), np.array(velocity), 0.33, lift_up, lift_side)
    wind = np.array([2.0, -1.0, 0.0])
    times = np.linspace(0.0, 5.0, 113)
    path = fly(launch, Medium(K_PER_M, wind), 5.0)
    assert path.at(times)[0] == approx(reference(launch, K_PER_M, wind, times), abs=1e-4)


def test_a_batch_flies_as_each_ball_alone() -> None:
    position = np.array([[0.0, 0.5, 0.8], [0.2, 0.4, 1.1]])
    velocity = np.array([[1.0, 30.0, 12.0], [-9.0, 25.0, 3.0]])
    times = np.array([[0.1, 0.55], [0.3, 0.7]])
    together = fly(Launch(position, velocity, np.array([0.3, 0.35]), 0.1), Medium(K_PER_M, STILL), 1.0).at(times)
    for row, drag in enumerate((0.3, 0.35)):
        alone = fly(Launch(position[row], velocity[row], drag, 0.1), Medium(K_PER_M, STILL), 1.0).at(times[row])
        assert together[row] == approx(alone[0], abs=1e-12)


def test_flown_backward_and_forward_again_the_ball_is_where_it_was() -> None:
    launch = Launch(np.array([0.0, 0.5, 0.8]), np.array([3.0, 30.0, 12.0]), 0.33)
    path = fly(launch, Medium(K_PER_M, STILL), 0.5, since_s=-0.3)
    assert path.time_s[0] <= -0.3
    assert path.at(np.array([0.0]))[0, 0] == approx(launch.position_m, abs=1e-12)
    first = int(np.argmin(np.abs(path.time_s)))
    again = fly(Launch(path.position_m[0, 0], path.velocity_mps[0, 0], 0.33), Medium(K_PER_M, STILL), 1.0)
    # Drag alone does not depend on the launch, so the flights are one.
    assert again.at(-path.time_s[:1])[0, 0] == approx(path.position_m[0, first], abs=1e-5)


def test_descent_is_found_on_the_way_down_only() -> None:
    launch = Launch(np.array([0.0, 0.0, 1.0]), np.array([0.0, 10.0, 9.80665]), 0.0)
    path = fly_to_ground(launch, Medium(K_PER_M, STILL), 0.05)
    # No drag: 1 + g t - g t²/2 = 1.5 has roots 1 ± sqrt(1 - 1/g).
    assert path.descent_s(1.5)[0] == approx(1.0 + np.sqrt(1.0 - 1.0 / GRAVITY_MPS2), abs=1e-7)


def test_a_ball_never_above_the_height_has_no_descent() -> None:
    low = Launch(np.array([0.0, 0.0, 0.04]), np.array([0.0, 10.0, -1.0]), 0.3)
    path = fly_to_ground(low, Medium(K_PER_M, STILL), 0.05)
    assert path.descent_s(0.05)[0] == 0.0


@settings(deadline=None, max_examples=25)
@given(st.floats(10, 50), st.floats(-0.2, 1.2), st.floats(-0.7, 0.7), st.floats(-0.3, 0.3))
def test_a_flight_mirrored_left_to_right_is_the_mirrored_flight(
    speed: float, launch: float, spray: float, lift_side: float
) -> None:
    across, level = np.sin(spray), np.cos(spray)
    velocity = speed * np.array([np.cos(launch) * across, np.cos(launch) * level, np.sin(launch)])
    mirror = np.array([-1.0, 1.0, 1.0])
    medium = Medium(K_PER_M, STILL)
    times = np.linspace(0, 2, 7)
    one = fly(Launch(np.array([0.3, 0.5, 0.9]), velocity, 0.33, 0.15, lift_side), medium, 2.0).at(times)
    other = fly(Launch(np.array([-0.3, 0.5, 0.9]), velocity * mirror, 0.33, 0.15, -lift_side), medium, 2.0).at(times)
    assert one == approx(other * mirror, abs=1e-9)
