"""A change is called one only where the swings show it."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from balltrack.lesson import Delivery
from balltrack.records.swing import Swing
from balltrack.review.change import compare
from balltrack.review.quantity import KINDS
from tests.records.swings import LOST, MISS
from tests.review.counted import group, hit


def hits(count: int, speed_mps: float, seed: int, spread_mps: float = 1.0) -> list[Swing]:
    rng = np.random.default_rng(seed)
    return [hit(speed_mps + spread_mps * each) for each in rng.standard_normal(count)]


def test_four_swings_faster_with_a_spread_of_one_is_faster_and_the_other_way_round_slower() -> None:
    slow, fast = group(hits(10, 30.0, 1)), group(hits(10, 34.0, 2), first=11)
    found, back = compare(slow, fast, "exit_speed"), compare(fast, slow, "exit_speed")
    assert (found.verdict, back.verdict) == ("up", "down")
    assert found.difference == approx(4.0, abs=1.5)  # medians of ten: sd 1.25 / sqrt(10) each, 0.56 together
    assert found.before.numbers == tuple(range(1, 11))
    assert found.after.numbers == tuple(range(11, 21))
    assert found.low is not None
    assert back.high == approx(-found.low, abs=0.15)  # another draw of the same
    assert found.chance is not None
    assert found.chance < 0.01


def test_the_same_swings_twice_are_no_change() -> None:
    swings = hits(12, 30.0, 3)
    found = compare(group(swings), group(swings, first=13), "exit_speed")
    assert (found.verdict, found.difference) == ("not clear", 0.0)
    assert found.chance == approx(1.0)


@pytest.mark.parametrize("quantity", KINDS)
def test_one_swing_fewer_than_it_takes_is_too_few(quantity: str) -> None:
    key = next(name for name in KINDS if name == quantity)
    enough = group([replace(each, contact_sd_m=(0.1, 0.1, 0.1)) for each in hits(KINDS[key].fewest, 30.0, 4)])
    few = group(enough.swings[1:])
    assert compare(few, enough, key).verdict == "too few"
    assert compare(enough, few, key).difference is None
    assert compare(enough, enough, key).verdict == "not clear"


def test_no_swings_at_all_are_too_few_and_no_error() -> None:
    empty = group([])
    for quantity in (*KINDS, "misses"):
        found = compare(empty, group(hits(12, 30.0, 5)), quantity)
        assert (found.verdict, found.before.value, found.before.numbers) == ("too few", None, ())


def test_misses_are_compared_among_all_swings() -> None:
    before = group([MISS] * 8 + [LOST] * 2 + hits(10, 30.0, 6))
    after = group([MISS, *hits(19, 30.0, 7)], first=21)
    found = compare(before, after, "misses")
    assert (found.before.value, found.after.value) == (0.4, 0.05)  # 8 of 20, 1 of 20
    assert found.verdict == "down"
    assert found.difference == approx(-0.35)


def test_none_missed_on_either_side_is_no_proof_of_none() -> None:
    found = compare(group(hits(6, 30.0, 8)), group(hits(6, 30.0, 9)), "misses")
    assert found.verdict == "not clear"
    # Score interval of 0 of 6 at 90 %: z^2 / (n + z^2) = 2.706 / 8.706 = 0.311. By hand.
    assert found.high == approx(0.311, abs=0.001)


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        ("tee", "tee", ""),
        ("tee", "live", "off a tee, then pitched live"),
        (None, None, ""),
        (None, "tee", "not stated"),
    ],
)
def test_another_delivery_is_said(before: Delivery | None, after: Delivery | None, word: str) -> None:
    found = compare(group(hits(5, 30.0, 10), before), group(hits(5, 30.0, 11), after), "exit_speed")
    assert word in found.caution
    assert bool(word) == bool(found.caution)


def test_blocks_of_unstated_delivery_may_not_be_alike_and_that_is_said() -> None:
    other = [replace(swing, block="02-live") for swing in hits(5, 30.0, 12)]
    found = compare(group(hits(5, 30.0, 13), None), group(other, None), "exit_speed")
    assert "not stated" in found.caution


def test_a_lesson_against_a_lesson_is_less_sure_than_within_one() -> None:
    slow, fast = group(hits(20, 30.0, 14, 0.3)), group(hits(20, 30.2, 15, 0.3))
    within, between = (compare(slow, fast, "exit_speed", same_camera=same) for same in (True, False))
    assert within.low is not None and within.high is not None
    assert between.low is not None and between.high is not None
    # Both cameras may be off by the swings' own 0.2 m/s: 1.645 x 0.2 x sqrt(2) = 0.47 to each side at least, less a
    # tenth for resampling.
    assert between.high - between.low > 0.9 * 2 * 0.47
    assert within.high - within.low < between.high - between.low
