"""Every figure of a tally can be counted by hand, and names the swings behind it."""

from dataclasses import fields

from pytest import approx

from balltrack.review.bands import Bands
from balltrack.review.own_best import own_best
from balltrack.review.stat import Share, Spread, Stat
from balltrack.review.tally import tally
from tests.records.swings import LOST, MISS
from tests.review.counted import group, hit

BANDS = Bands()
FOUR = group(
    [
        hit(30.0, 5.0, flight="ground_ball", field_side="pull", fence_clear_probability=0.0, carry_m=20.0),
        MISS,
        hit(34.0, 20.0, field_side="pull", fence_clear_probability=0.4, carry_m=80.0),
        LOST,
        hit(32.0, 30.0, field_side="middle", fence_clear_probability=0.8, carry_m=90.0),
        hit(28.0, 60.0, field_side="opposite", spray_deg=50.0, fence_clear_probability=None, carry_m=15.0),
    ],
    first=11,
)


def counts(shares: tuple[Share, ...]) -> dict[str, tuple[int, ...]]:
    return {share.name: share.numbers for share in shares}


def test_what_came_of_each_swing_is_counted_once() -> None:
    found = tally(FOUR, BANDS, None)
    assert found.swings == (11, 12, 13, 14, 15, 16)
    assert (found.measured, found.misses, found.not_measured) == ((11, 13, 15, 16), (12,), (14,))
    assert (found.miss_share.count, found.miss_share.of) == (1, 6)


def test_medians_best_and_quartiles_are_those_of_the_measured_hits() -> None:
    found = tally(FOUR, BANDS, None)
    assert found.exit_speed == Stat(31.0, (11, 13, 15, 16))  # of 28, 30, 32, 34; four give no interval
    assert found.exit_speed_best.value == 34.0
    assert found.exit_speed_best.numbers == (13,)
    assert found.exit_speed_best.low == approx(34.0 - 1.645 * 0.2)  # 0.2 m/s is its sd
    assert found.launch.value == 25.0
    assert (found.launch_spread.low, found.launch_spread.high) == (16.25, 37.5)  # by hand, linear between 5, 20, 30, 60
    assert found.carry_best.value == 90.0


def test_sides_flights_and_fouls_name_their_swings() -> None:
    found = tally(FOUR, BANDS, None)
    assert counts(found.sides) == {"pull": (11, 13), "middle": (15,), "opposite": (16,)}
    assert counts(found.flights) == {
        "ground_ball": (11,),
        "line_drive": (13,),
        "fly_ball": (15,),
        "pop_up": (16,),
    }
    assert found.foul.numbers == (16,)
    assert {share.of for share in (*found.sides, *found.flights, found.foul)} == {4}


def test_other_bands_give_other_flights() -> None:
    assert counts(tally(FOUR, Bands(ground_ball_deg=21.0), None).flights)["ground_ball"] == (11, 13)


def test_balls_over_the_fence_are_the_sum_of_their_chances() -> None:
    found = tally(FOUR, BANDS, None)
    assert found.over_fence is not None
    assert found.over_fence.value == approx(1.2)
    assert found.over_fence.numbers == (11, 13, 15)  # one has no chance stated
    assert tally(group([hit(30.0, fence_clear_probability=None)]), BANDS, None).over_fence is None


def test_a_poor_reading_is_the_best_only_where_there_is_no_other() -> None:
    poor = hit(60.0, quality="poor")
    assert tally(group([poor, hit(30.0)]), BANDS, None).exit_speed_best.numbers == (2,)
    assert tally(group([poor]), BANDS, None).exit_speed_best.numbers == (1,)


def test_hard_and_well_hit_need_the_players_own_yardstick() -> None:
    five = group([hit(30.0), hit(31.0), hit(30.5, 45.0), hit(20.0), hit(29.0)])
    own = own_best(five, BANDS)
    found = tally(five, BANDS, own)
    assert found.hard is not None
    assert found.well_hit is not None
    assert found.hard.numbers == (1, 2, 3, 5)  # from 0.9 x 30.5
    assert found.well_hit.numbers == (1, 2, 5)
    assert tally(five, BANDS, None).hard is None


def test_timing_is_counted_of_balls_that_no_tee_placed() -> None:
    ahead = hit(30.0, contact_sd_m=(0.01, 0.01, 0.01), contact_m=(0.0, 0.9318, 0.8), contact_depth_m=0.5)
    live = tally(group([ahead, hit(30.0)]), BANDS, None)
    assert counts(live.timings)["early"] == (1,)  # half a metre ahead
    assert {share.of for share in live.timings} == {1}  # the other's contact has no error stated
    assert {share.of for share in tally(group([ahead], "tee"), BANDS, None).timings} == {0}


def test_five_hits_give_an_interval_about_the_median() -> None:
    found = tally(group([hit(speed) for speed in (30.0, 31.0, 32.0, 33.0, 34.0)]), BANDS, None).exit_speed
    assert found.value == 32.0
    assert found.low is not None
    assert found.high is not None
    assert 29.0 < found.low < 32.0 < found.high < 35.0  # within the swings and a little


def test_a_spread_that_is_mostly_error_says_so() -> None:
    assert Spread(-0.1, 0.1, (1, 2, 3, 4), 0.2).mostly_error
    assert not Spread(-10.0, 10.0, (1, 2, 3, 4), 0.2).mostly_error
    assert not Spread(None, None, (), None).mostly_error


def test_nothing_measured_gives_no_numbers_and_no_error() -> None:
    for swings in ([], [MISS, LOST]):
        found = tally(group(swings), BANDS, None)
        for field in fields(found):
            value = getattr(found, field.name)
            if isinstance(value, Stat):
                assert value == Stat(None, ()), field.name
            if isinstance(value, Spread):
                assert (value.low, value.high) == (None, None), field.name
    assert tally(group([]), BANDS, None).miss_share.share is None
