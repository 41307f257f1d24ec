"""What is said of a change claims no more than its interval."""

import re
from typing import get_args

import pytest

from balltrack.review.change import Change, Verdict
from balltrack.review.change_words import change_words
from balltrack.review.quantity import Quantity
from balltrack.review.stat import Stat
from balltrack.units import M_PER_IN, MPS_PER_MPH

TWENTY = tuple(range(1, 21))


def change(
    ends: tuple[float, float, float], quantity: Quantity = "exit_speed", unit: float = MPS_PER_MPH, count: int = 20
) -> Change:
    """Low, difference and high in a unit; the verdict as they have it."""
    low, difference, high = (unit * end for end in ends)
    verdict: Verdict = "up" if low > 0 else "down" if high < 0 else "not clear"
    numbers = TWENTY[:count]
    return Change(quantity, Stat(0.0, numbers), Stat(difference, numbers), difference, low, high, verdict)


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((3, 6, 9), "6 mph faster, likely 3 to 9"),
        ((-9, -6, -3), "6 mph slower, likely 3 to 9"),
        ((-2, 2, 5), "no clear change: likely between 2 mph slower and 5 mph faster"),
        ((0.3, 5, 9), "5.0 mph faster, likely 0.3 to 9.0"),
        ((0.01, 5, 9), "5.0 mph faster, likely up to 9.0"),  # never "likely 0 to 9"
        ((0.5, 0.9, 1.4), "0.9 mph faster, likely 0.5 to 1.4"),
        ((-0.4, 0.1, 0.6), "no clear change: likely between 0.4 mph slower and 0.6 mph faster"),
    ],
)
def test_speed_is_told_in_whole_miles_where_that_says_enough(ends: tuple[float, float, float], words: str) -> None:
    assert change_words(change(ends), "us") == words


def test_a_metric_reader_gets_kilometres_an_hour() -> None:
    assert change_words(change((3, 6, 9), unit=1 / 3.6), "metric") == "6 km/h faster, likely 3 to 9"


@pytest.mark.parametrize(
    ("quantity", "unit", "words"),
    [
        ("launch", 1.0, "6° higher, likely 3 to 9"),
        ("spray", 1.0, "6° further to the right, likely 3 to 9"),
        ("depth", M_PER_IN, "6 in further ahead, likely 3 to 9"),
        ("launch_spread", 1.0, "6° more spread out, likely 3 to 9"),
        ("misses", 0.01, "6 more in 100 swings, likely 3 to 9"),
    ],
)
def test_each_quantity_has_its_own_words(quantity: Quantity, unit: float, words: str) -> None:
    assert change_words(change((3, 6, 9), quantity, unit), "us") == words


def test_few_swings_are_said() -> None:
    assert change_words(change((3, 6, 9), count=5), "us") == "6 mph faster, likely 3 to 9; only 5 swings against 5"


def test_too_few_swings_give_no_number_at_all() -> None:
    few = Change("exit_speed", Stat(30.0, (1, 2, 3)), Stat(33.0, (4, 5)), None, None, None, "too few")
    words = change_words(few, "us")
    assert words == "too few swings to tell (3 against 2; it takes 5 on each side)"


@pytest.mark.parametrize("quantity", get_args(Quantity))
def test_where_it_is_not_clear_no_side_is_taken(quantity: Quantity) -> None:
    words = change_words(change((-2, 3, 8), quantity), "us")
    assert words.startswith("no clear change: likely between ")
    assert not re.match(r"\d", words)
