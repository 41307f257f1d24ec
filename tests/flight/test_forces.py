import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from balltrack.flight.forces import (
    air_factor,
    drag_and_lift,
    lift_axis,
    lift_cross,
    lift_directions,
    lift_nathan,
    lift_sawicki,
    spin_parameter,
)
from balltrack.flight.motion import LIFT_EXPONENT

speeds = st.floats(-60, 60).filter(lambda v: abs(v) > 0.1)


def test_backspin_lifts_a_ball_hit_to_centre_field_straight_up() -> None:
    velocity = np.array([0.0, 40.0, 0.0])
    axis = lift_axis(velocity, np.array(0.2), np.array(0.0))
    air = drag_and_lift(velocity, 0.005, np.array(0.0), axis, np.array(40.0))
    # By hand: K CL v² = 0.005 * 0.2 * 1600 = 1.6 m/s² upward.
    assert air == approx([0.0, 0.0, 1.6])


def test_positive_side_lift_pushes_toward_right_field() -> None:
    velocity = np.array([0.0, 40.0, 0.0])
    axis = lift_axis(velocity, np.array(0.0), np.array(0.1))
    air = drag_and_lift(velocity, 0.005, np.array(0.0), axis, np.array(40.0))
    assert air == approx([0.8, 0.0, 0.0])


def test_drag_opposes_motion_with_half_rho_cd_a_v_squared() -> None:
    # By hand, a 12-inch softball (0.0970 m, 0.188 kg) at 40 m/s, rho 1.2, Cd 0.33:
    # 0.5 * 1.2 * 0.33 * pi/4 * 0.097² * 1600 / 0.188 = 12.453 m/s².
    factor = air_factor(1.2, 0.097, 0.188)
    velocity = np.array([40.0, 0.0, 0.0])
    air = drag_and_lift(velocity, factor, np.array(0.33), np.zeros(3), np.array(40.0))
    assert air == approx([-12.453, 0.0, 0.0], abs=2e-3)


@given(speeds, speeds, speeds)
def test_lift_directions_are_unit_perpendicular_and_the_side_is_level(x: float, y: float, z: float) -> None:
    velocity = np.array([x, y, z])
    side, up = lift_directions(velocity)
    assert np.linalg.norm(side) == approx(1.0)
    assert np.linalg.norm(up) == approx(1.0)
    assert side @ velocity == approx(0.0, abs=1e-9)
    assert up @ velocity == approx(0.0, abs=1e-9)
    assert side @ up == approx(0.0, abs=1e-12)
    assert side[2] == 0.0
    assert up[2] > 0.0


@given(speeds, speeds, speeds, st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_lift_axis_gives_back_the_lift_it_was_made_of(
    x: float, y: float, z: float, lift_up: float, lift_side: float
) -> None:
    velocity = np.array([x, y, z])
    side, up = lift_directions(velocity)
    axis = lift_axis(velocity, np.array(lift_up), np.array(lift_side))
    lift = np.cross(axis, velocity / np.linalg.norm(velocity))
    assert lift == approx(lift_up * up + lift_side * side, abs=1e-12)


def test_a_vertical_ball_still_has_finite_forces() -> None:
    velocity = np.array([0.0, 0.0, 30.0])
    axis = lift_axis(velocity, np.array(0.2), np.array(0.1))
    assert np.all(np.isfinite(drag_and_lift(velocity, 0.005, np.array(0.3), axis, np.array(30.0))))


def test_a_ball_at_rest_in_the_air_feels_no_force() -> None:
    air = drag_and_lift(np.zeros(3), 0.005, np.array(0.3), np.array([0.2, 0.0, 0.0]), np.array(30.0))
    assert air == approx(np.zeros(3))


def test_lift_grows_with_slowing_as_the_published_laws_do_on_average() -> None:
    # A ball launched with S = 0.2 and slowed from 38 to 28 m/s at the same spin has S = 0.2 * 38 / 28.
    slowed = np.array([0.2, 0.2 * 38 / 28])
    growths = [law(slowed)[1] / law(slowed)[0] for law in (lift_sawicki, lift_cross, lift_nathan)]
    # The three laws disagree among themselves by about 10 %; the rule must lie among them.
    assert min(growths) < (38 / 28) ** LIFT_EXPONENT < max(growths)


def test_spin_parameter_of_a_softball() -> None:
    # By hand: 1500 rpm = 157.08 rad/s, radius 0.0485 m, 38 m/s -> 0.20048.
    assert spin_parameter(np.array(157.08), 0.0485, np.array(38.0)) == approx(0.20048, abs=1e-5)
