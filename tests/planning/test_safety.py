import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balltrack.planning.safety import SafeZones

RIGHT = SafeZones("right", "softball-12", screen=False)
SCREENED = SafeZones("right", "softball-12", screen=True)
LEFT = SafeZones("left", "softball-12", screen=False)
metres = st.floats(-15, 15)


@pytest.mark.parametrize(
    ("place_m", "why"),
    [
        ((0.0, 12.0), "on the pitcher's plate"),
        ((10.0, 8.0), "in fair ground"),
        ((-7.0, 5.0), "in foul ground ahead of the plate"),
        ((8.0, 0.3), "beside the plate"),
        ((-8.0, -3.0), "beside the plate, a little behind"),
        ((-0.8, -3.0), "a swing's length behind the batter's box"),
    ],
)
def test_no_one_stands_where_balls_and_bats_fly(place_m: tuple[float, float], why: str) -> None:
    assert RIGHT.unsafe(np.array(place_m)), why


def test_behind_the_plate_and_behind_the_open_side_one_may_stand() -> None:
    assert not RIGHT.unsafe(np.array([[0.0, -5.5], [5.0, -5.0], [-5.0, -5.0]])).any()


def test_a_screen_opens_the_places_beside_the_plate_but_never_fair_ground() -> None:
    beside, fair = np.array([9.0, 0.5]), np.array([9.0, 9.0])
    assert not SCREENED.unsafe(beside)
    assert SCREENED.unsafe(fair)


@given(metres, metres)
def test_no_bat_reaches_a_place_that_is_called_safe(x_m: float, y_m: float) -> None:
    # A bat of 0.86 m, arms of 0.65 m: from any place in the right-handed batter's box (softball rules: 3 x 7 ft, 6 in
    # from the plate), nothing within 1.5 m is safe, screen or not.
    nearest = np.array([np.clip(x_m, -1.2827, -0.3683), np.clip(y_m, -0.6985, 1.4351)])
    if np.hypot(*(nearest - [x_m, y_m])) < 1.5:
        assert RIGHT.unsafe(np.array([x_m, y_m]))
        assert SCREENED.unsafe(np.array([x_m, y_m]))


@given(metres, metres)
def test_a_left_handed_batter_mirrors_the_zones(x_m: float, y_m: float) -> None:
    assert RIGHT.unsafe(np.array([x_m, y_m])) == LEFT.unsafe(np.array([-x_m, y_m]))
