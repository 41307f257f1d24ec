import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import solve_ivp

from balltrack.flight.forces import drag_and_lift, lift_axis
from balltrack.flight.motion import GRAVITY_MPS2
from balltrack.flight.path import Launch, Medium, fly
from balltrack.units import Floats

K_PER_M = 0.0236  # a 12-inch softball in air of 1.2 kg/m³
WIND = np.array([2.0, -1.0, 0.0])
speeds = st.floats(5, 40)


@settings(deadline=None, max_examples=10)
@given(speeds, speeds, st.floats(-10, 30), st.floats(-0.3, 0.3), st.floats(-0.2, 0.2))
def test_the_steps_fly_by_the_law_that_is_told_by_itself(x: float, y: float, z: float, up: float, side: float) -> None:
    # Source: scipy's DOP853 at rtol 1e-10 on `drag_and_lift`. 0.1 mm: the stated error of the steps.
    start, velocity = np.array([0.0, 0.5, 0.8]), np.array([x, y, z])
    axis, launch_mps = lift_axis(velocity, np.array(up), np.array(side)), np.linalg.norm(velocity - WIND)

    def law(_time_s: float, state: Floats) -> Floats:
        air = drag_and_lift(state[3:] - WIND, K_PER_M, np.array(0.33), axis, np.array(launch_mps))
        return np.concatenate([state[3:], air - [0.0, 0.0, GRAVITY_MPS2]])

    solved = solve_ivp(law, (0.0, 1.0), np.concatenate([start, velocity]), method="DOP853", rtol=1e-10, atol=1e-10)
    path = fly(Launch(start, velocity, 0.33, up, side), Medium(K_PER_M, WIND), 1.0)
    assert path.at(np.array([1.0]))[0, 0] == approx(solved.y[:3, -1], abs=1e-4)


@settings(deadline=None, max_examples=10)
@given(st.lists(st.tuples(speeds, speeds, st.floats(0.2, 0.5)), min_size=2, max_size=5))
def test_no_ball_of_a_batch_feels_the_others(balls: list[tuple[float, float, float]]) -> None:
    velocity = np.array([[x - 20.0, y, 8.0] for x, y, _ in balls])
    place, drag = np.zeros((len(balls), 3)), np.array([each for _, _, each in balls])
    times, medium = np.array([-0.2, 0.0, 0.31, 0.9]), Medium(K_PER_M, WIND)
    together = fly(Launch(place, velocity, drag, 0.1, 0.05), medium, 1.0, since_s=-0.3)
    for k in range(len(balls)):
        alone = fly(Launch(place[k], velocity[k], drag[k], 0.1, 0.05), medium, 1.0, since_s=-0.3)
        assert together.at(times)[k] == approx(alone.at(times)[0], abs=1e-12)  # sums may be taken in another order
        assert together.coarsely_at(times)[0][k] == approx(alone.coarsely_at(times)[0][0], abs=1e-12)


def test_a_time_that_is_no_number_has_no_place() -> None:
    path = fly(Launch(np.zeros(3), np.array([0.0, 30.0, 8.0]), 0.33), Medium(K_PER_M, WIND), 1.0)
    assert np.isnan(path.at(np.array([np.nan]))).all()
    assert np.isfinite(path.at(np.array([0.5]))).all()
