"""Plate, boxes, bases and balls against the rule books, in their own feet, inches and ounces."""

from math import degrees, dist, pi

import numpy as np
import pytest

from balltrack.field import Fence, ball_of_kind, named_points
from balltrack.units import KG_PER_OZ, M_PER_FT, M_PER_IN

SOFTBALL = named_points("softball-12", 65 * M_PER_FT)
BASEBALL = named_points("baseball", 90 * M_PER_FT)


def inches(a: str, b: str, points: dict[str, tuple[float, float, float]] = SOFTBALL) -> float:
    return dist(points[a], points[b]) / M_PER_IN


def test_plate_has_the_rule_books_sides() -> None:
    # Source: Official Baseball Rules 2.02: 17 in front edge, two 8 1/2 in sides, two 12 in rear edges.
    assert inches("plate_front_left", "plate_front_right") == pytest.approx(17.0)
    assert inches("plate_left", "plate_front_left") == pytest.approx(8.5)
    assert inches("plate_right", "plate_front_right") == pytest.approx(8.5)
    # The rule's numbers do not close: with a right angle at the tip the rear edges are 17 / sqrt 2 = 12.02 in.
    assert inches("plate_tip", "plate_left") == pytest.approx(12.0, abs=0.021)
    assert inches("plate_tip", "plate_right") == pytest.approx(17 / 2**0.5)


def test_plate_tip_is_a_right_angle_on_the_foul_lines() -> None:
    left, right = (np.array(SOFTBALL[name]) for name in ("plate_left", "plate_right"))
    assert left @ right == pytest.approx(0.0, abs=1e-12)
    assert degrees(np.arctan2(right[0], right[1])) == pytest.approx(45.0)


@pytest.mark.parametrize(
    ("base_path_ft", "diagonal_ft", "within_ft"),
    # Sources: 127 ft 3 3/8 in, Official Baseball Rules 2.01; 84 ft 10 1/4 in and 91 ft 11 in, softball field tables.
    # They are printed to a quarter inch, the last to an inch: 0.02 and 0.1 ft.
    [(90, 127 + 3.375 / 12, 0.02), (60, 84 + 10.25 / 12, 0.02), (65, 91 + 11 / 12, 0.1)],
)
def test_second_base_is_a_diagonal_away(base_path_ft: float, diagonal_ft: float, within_ft: float) -> None:
    points = named_points("softball-12", base_path_ft * M_PER_FT)
    assert dist(points["plate_tip"], points["second_base_center"]) / M_PER_FT == pytest.approx(
        diagonal_ft, abs=within_ft
    )
    assert dist(points["first_base_back"], points["third_base_back"]) / M_PER_FT == pytest.approx(
        diagonal_ft, abs=within_ft
    )
    for base in ("first_base_back", "third_base_back"):
        assert dist(points["plate_tip"], points[base]) / M_PER_FT == pytest.approx(base_path_ft)
        assert dist(points["second_base_center"], points[base]) / M_PER_FT == pytest.approx(base_path_ft)


def test_pitchers_plate_stands_where_the_rules_put_it() -> None:
    # Sources: 60 ft 6 in, Official Baseball Rules; slow pitch 50 ft, ASA rule 2.
    assert BASEBALL["pitchers_plate_front"] == pytest.approx((0.0, 60.5 * M_PER_FT, 0.0))
    assert SOFTBALL["pitchers_plate_front"] == pytest.approx((0.0, 50 * M_PER_FT, 0.0))


@pytest.mark.parametrize("side", ["left", "right"])
def test_softball_box_is_three_by_seven_feet_four_of_them_ahead(side: str) -> None:
    # Sources: 3 x 7 ft, 6 in from the plate: ISF rules; front line 4 ft ahead of the plate's middle: US fastpitch 1-2.
    assert inches(f"{side}_box_inner_back", f"{side}_box_outer_back") == pytest.approx(36.0)
    assert inches(f"{side}_box_inner_back", f"{side}_box_inner_front") == pytest.approx(84.0)
    assert abs(SOFTBALL[f"{side}_box_inner_front"][0]) / M_PER_IN - 8.5 == pytest.approx(6.0)
    assert SOFTBALL[f"{side}_box_outer_front"][1] / M_PER_IN - 8.5 == pytest.approx(48.0)


@pytest.mark.parametrize("side", ["left", "right"])
def test_baseball_box_is_four_by_six_feet_about_the_plate(side: str) -> None:
    # Source: field guides to the Official Baseball Rules: 4 x 6 ft; the 6 in gap is from memory.
    assert inches(f"{side}_box_inner_back", f"{side}_box_outer_back", BASEBALL) == pytest.approx(48.0)
    assert inches(f"{side}_box_inner_back", f"{side}_box_inner_front", BASEBALL) == pytest.approx(72.0)
    middle = (BASEBALL[f"{side}_box_inner_back"][1] + BASEBALL[f"{side}_box_inner_front"][1]) / 2
    assert middle / M_PER_IN == pytest.approx(8.5)
    assert abs(BASEBALL[f"{side}_box_inner_front"][0]) / M_PER_IN - 8.5 == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("kind", "circumference_in", "weight_oz"),
    # Sources: Official Baseball Rules 3.01; ASA 2001 rules p. 60-61 (the 11-inch ball's weight from memory).
    [
        ("baseball", (9.0, 9.25), (5.0, 5.25)),
        ("softball-12", (11.875, 12.125), (6.25, 7.0)),
        ("softball-11", (10.875, 11.125), (5.875, 6.125)),
    ],
)
def test_balls_lie_within_the_rules_and_their_sd_spans_them(
    kind: str, circumference_in: tuple[float, float], weight_oz: tuple[float, float]
) -> None:
    ball = ball_of_kind(kind)
    round_in, ounces = ball.diameter_m * pi / M_PER_IN, ball.mass_kg / KG_PER_OZ
    assert round_in == pytest.approx(sum(circumference_in) / 2)
    assert ounces == pytest.approx(sum(weight_oz) / 2)
    for value, sd, (least, most) in (
        (round_in, ball.diameter_sd_m * pi / M_PER_IN, circumference_in),
        (ounces, ball.mass_sd_kg / KG_PER_OZ, weight_oz),
    ):
        assert value - 2 * sd < least < value - sd  # an even spread reaches 1.73 sd
        assert value + sd < most < value + 2 * sd


def test_slow_pitch_fence_poles_are_where_the_tables_put_them() -> None:
    # Source: state sports-dimensions guide: slow pitch, women and coed, 83.82 m (275 ft).
    points = named_points("softball-12", 19.812, fence=Fence((275 * M_PER_FT,), 1.8))
    assert dist(points["plate_tip"], points["left_pole_base"]) == pytest.approx(83.82)
