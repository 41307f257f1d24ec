"""A player is measured with that player's own fast swings."""

import pytest
from pytest import approx

from balltrack.review.bands import Bands
from balltrack.review.own_best import own_best
from tests.review.counted import group, hit

BANDS = Bands()


def test_hard_begins_at_nine_tenths_of_the_median_of_the_three_fastest() -> None:
    own = own_best(group([hit(speed) for speed in (30.0, 40.0, 20.0, 38.0, 36.0)]), BANDS)
    assert own is not None
    assert own.top_mps == 38.0  # the median of 40, 38 and 36
    assert own.top_numbers == (2, 4, 5)
    assert own.hard_mps == approx(0.9 * 38.0)


def test_one_wild_reading_does_not_set_the_yardstick() -> None:
    wild = own_best(group([hit(speed) for speed in (30.0, 60.0, 31.0, 29.0, 30.5)]), BANDS)
    assert wild is not None
    assert wild.top_mps == 31.0


def test_readings_of_poor_quality_set_it_only_where_there_are_no_others() -> None:
    good = [hit(speed) for speed in (30.0, 31.0, 32.0)]
    poor = [hit(speed, quality="poor") for speed in (40.0, 41.0)]
    own = own_best(group([*good, *poor]), BANDS)
    assert own is not None
    assert own.top_numbers == (1, 2, 3)
    alone = own_best(group(poor * 3), BANDS)
    assert alone is not None
    assert alone.top_mps == 41.0


def test_four_hits_are_no_distribution() -> None:
    assert own_best(group([hit(30.0)] * 4), BANDS) is None
    assert own_best(group([hit(30.0)] * 5), BANDS) is not None


@pytest.mark.parametrize(
    ("speed_mps", "launch_deg", "spray_deg", "well"),
    [
        (30.0, 15.0, 0.0, True),
        (26.0, 15.0, 0.0, False),  # slower than 27
        (30.0, 9.0, 0.0, False),
        (30.0, 31.0, 0.0, False),
        (30.0, 15.0, -46.0, False),  # foul
    ],
)
def test_well_hit_is_hard_fair_and_neither_low_nor_high(
    speed_mps: float, launch_deg: float, spray_deg: float, well: bool
) -> None:
    own = own_best(group([hit(30.0)] * 5), BANDS)
    assert own is not None
    assert own.is_well_hit(hit(speed_mps, launch_deg, spray_deg=spray_deg)) is well


def test_the_own_zone_comes_from_well_hit_balls_that_no_tee_placed() -> None:
    swings = [hit(30.0, contact_depth_m=0.1 * n) for n in range(5)]
    own = own_best(group(swings, "live"), BANDS)
    assert own is not None
    assert own.zone_m == approx((0.04, 0.36))  # numpy's linear 10th and 90th percentile of 0, 0.1 .. 0.4, by hand
    assert own.zone_numbers == (1, 2, 3, 4, 5)
    tee = own_best(group(swings, "tee"), BANDS)
    assert tee is not None
    assert tee.zone_m is None
