"""The field's points and fence: symmetry, names, and the fence between its given distances."""

from math import hypot

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balltrack.errors import ShapeError
from balltrack.field import (
    BALL_KINDS,
    FENCE_DIRECTIONS_RAD,
    FREE_POINTS,
    POLE_POINTS,
    Fence,
    ball_of_kind,
    ball_of_size,
    named_points,
)
from balltrack.units import KG_PER_OZ, M_PER_FT, M_PER_IN

PARK = Fence((90.0, 105.0, 115.0, 105.0, 85.0), 2.0)


@pytest.mark.parametrize("kind", BALL_KINDS)
def test_left_is_right_in_a_mirror(kind: str) -> None:
    points = named_points(kind, 65 * M_PER_FT, fence=Fence((90.0,), 2.0))
    swap = {"left": "right", "right": "left", "first": "third", "third": "first"}
    for name, (x, y, z) in points.items():
        twin = "_".join(swap.get(word, word) for word in name.split("_"))
        assert points[twin] == pytest.approx((-x, y, z))
        assert z == 0.0
        if "left" in name or "third" in name:
            assert x < 0.0  # left is the catcher's: toward third base


def test_all_names_are_there_and_no_other() -> None:
    corners = [f"{s}_box_{e}_{d}" for s in ("left", "right") for e in ("inner", "outer") for d in ("back", "front")]
    plate = ["plate_tip", "plate_left", "plate_right", "plate_front_left", "plate_front_right"]
    bases = ["first_base_back", "second_base_center", "third_base_back", "pitchers_plate_front"]
    expected = {*corners, *plate, *bases}
    assert set(named_points("softball-12", 19.812)) == expected
    assert set(named_points("softball-12", 19.812, fence=PARK)) == expected | set(POLE_POINTS)
    assert not expected & set(FREE_POINTS)


def test_pitching_distance_can_be_stated() -> None:
    # Women's fastpitch, 43 ft (ASA rule 2).
    assert named_points("softball-12", 18.288, 43 * M_PER_FT)["pitchers_plate_front"] == (0.0, 43 * M_PER_FT, 0.0)


def test_poles_stand_on_the_foul_lines_at_the_fence() -> None:
    points = named_points("softball-12", 19.812, fence=PARK)
    x, y, _ = points["left_pole_base"]
    assert (hypot(x, y), x) == pytest.approx((90.0, -y))
    x, y, _ = points["right_pole_base"]
    assert (hypot(x, y), x) == pytest.approx((85.0, y))


def test_fence_passes_through_what_was_given() -> None:
    assert PARK.distance_m(np.array(FENCE_DIRECTIONS_RAD)) == pytest.approx(PARK.distances_m)
    assert float(PARK.distance_m(0.0)) == pytest.approx(115.0)
    assert float(Fence((83.82,), 2.0).distance_m(0.3)) == 83.82


@given(
    st.lists(st.floats(50, 130), min_size=5, max_size=5),
    st.floats(-np.pi / 4, np.pi / 4),
)
def test_fence_never_leaves_the_range_of_its_neighbours(distances_m: list[float], spray_rad: float) -> None:
    here = float(Fence(tuple(distances_m), 2.0).distance_m(spray_rad))
    i = min(int((spray_rad + np.pi / 4) / (np.pi / 8)), 3)
    low, high = sorted(distances_m[i : i + 2])
    assert low - 1e-9 <= here <= high + 1e-9


def test_beyond_the_poles_the_fence_stays_at_the_pole() -> None:
    assert PARK.distance_m(np.array([-1.2, 1.2])) == pytest.approx([90.0, 85.0])


def test_a_fence_of_three_distances_is_refused() -> None:
    with pytest.raises(ShapeError, match="1 or 5"):
        Fence((90.0, 100.0, 90.0), 2.0)


@pytest.mark.parametrize("kind", BALL_KINDS)
def test_a_ball_measured_like_a_kind_is_of_that_kind(kind: str) -> None:
    book = ball_of_kind(kind)
    measured = ball_of_size(book.diameter_m * np.pi + 0.002, book.mass_kg)
    assert (measured.kind, measured.drag, measured.drag_sd) == (kind, book.drag, book.drag_sd)
    assert measured.diameter_m == pytest.approx(book.diameter_m + 0.002 / np.pi)
    assert 0 < measured.diameter_sd_m < 0.002
    assert measured.mass_sd_kg < book.mass_sd_kg * 1.5


def test_a_sixteen_inch_ball_counts_as_a_softball() -> None:
    ball = ball_of_size(16 * M_PER_IN, 9 * KG_PER_OZ)
    assert ball.kind == "softball-12"
