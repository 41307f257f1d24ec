"""Intervals hold what they claim: nine in ten, with each swing's own error and with few swings."""

import numpy as np
import pytest
from pytest import approx

from balltrack.review.quantity import Sample, spread
from balltrack.review.resample import chance_of, difference_interval, interval_of
from balltrack.units import Floats

TRIALS = 100  # the share that holds is known to 0.03 (one sd) at 0.9


def sample(values: Floats, sds: Floats) -> Sample:
    return Sample(values, sds, tuple(range(1, len(values) + 1)))


def lesson(rng: np.random.Generator, count: int, player_sd: float, camera_off: float = 0.0) -> Sample:
    """Swings of a player whose median is 0, some swings far below it, each read with its own error."""
    mishit = np.where(rng.random(count) < 0.15, rng.gamma(2.0, 3.0 * player_sd, count), 0.0)
    sds = rng.choice([0.4, 0.9, 2.0], count)
    return sample(player_sd * rng.standard_normal(count) - mishit + sds * rng.standard_normal(count) + camera_off, sds)


@pytest.mark.parametrize(("counts", "player_sd"), [((5, 5), 3.0), ((5, 12), 3.0), ((12, 12), 0.3), ((25, 25), 3.0)])
def test_nine_in_ten_intervals_hold_a_difference_of_none(counts: tuple[int, int], player_sd: float) -> None:
    # Both samples are of one player, so the true difference is 0. From 0.82 (0.9 less 2.6 sd of so many trials) up: few
    # swings are allowed to be told too carefully, never too surely.
    rng = np.random.default_rng(11)
    held = []
    for _ in range(TRIALS):
        first, last = (lesson(rng, count, player_sd) for count in counts)
        found = difference_interval(first, last, np.median)
        held.append(found.low <= 0 <= found.high)
    assert np.mean(held) >= 0.82


def test_nine_in_ten_intervals_of_a_spread_hold_it() -> None:
    # Normal swings of sd 10, errors of 0.5: the true difference of two such spreads is 0.
    rng = np.random.default_rng(12)
    held = []
    for _ in range(TRIALS):
        first, last = (sample(10.0 * rng.standard_normal(12), np.full(12, 0.5)) for _ in range(2))
        found = difference_interval(first, last, spread)
        held.append(found.low <= 0 <= found.high)
    assert np.mean(held) >= 0.82


def test_another_days_camera_is_reckoned_with_and_more_swings_do_not_mend_it() -> None:
    # Each lesson's camera is off by 0.4 as a whole, which is in every swing's own sd. Forgetting that, the interval
    # of 40 swings would hold far too seldom.
    rng = np.random.default_rng(13)
    held = {True: 0, False: 0}
    for _ in range(TRIALS):
        off = 0.4 * rng.standard_normal(2)
        first, last = (
            sample(0.5 * rng.standard_normal(40) + each + 0.3 * rng.standard_normal(40), np.full(40, 0.5))
            for each in off
        )
        for shared in held:
            found = difference_interval(first, last, np.median, shared=shared)
            held[shared] += found.low <= 0 <= found.high
    assert held[True] >= 0.82 * TRIALS
    assert held[False] < 0.7 * TRIALS


def test_vague_swings_that_happen_to_agree_stay_vague() -> None:
    # Ten readings of sd 2 that all read 30: a mean of ten such errors has sd 2 / sqrt(10) = 0.63, so nine in ten lie
    # within 1.04; the median's error is a quarter larger (1.25, normal theory). Student's t adds to it.
    found = interval_of(sample(np.full(10, 30.0), np.full(10, 2.0)), np.median)
    assert 1.0 < 30.0 - found.low < 1.8
    assert 1.0 < found.high - 30.0 < 1.8


def test_errors_are_not_counted_twice() -> None:
    # A spread of 2.24 that is made of the player's 2 and errors of 1: the mean of 200 has the standard error
    # 2.24 / sqrt(200) = 0.158, as if the errors were not known. Counted twice it would be 0.173. 3 %: resampling.
    rng = np.random.default_rng(14)
    values = rng.standard_normal(200)
    values = (values - values.mean()) / values.std(ddof=1) * np.sqrt(5.0)
    assert interval_of(sample(values, np.ones(200)), np.mean).standard_error == approx(0.158, rel=0.03)


def test_the_same_swings_give_the_same_interval() -> None:
    one = lesson(np.random.default_rng(1), 8, 3.0)
    assert interval_of(one, np.median) == interval_of(one, np.median)


def test_dealing_anew_is_counted_exactly_for_few_swings() -> None:
    # 3 against 3, all of one side above the other: 2 of the C(6, 3) = 20 ways differ as much. By hand.
    first, last = (sample(np.array(values), np.full(3, 0.1)) for values in ([1.0, 2.0, 3.0], [11.0, 12.0, 13.0]))
    assert chance_of(first, last, np.mean) == approx(2 / 20)
