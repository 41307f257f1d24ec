"""A swing keeps its number, whatever was left out."""

from dataclasses import replace

import pytest

from balltrack.review.numbered import numbered, numbers_said
from tests.records.swings import HIT, LOST, MISS


def test_a_swing_left_out_takes_no_other_s_number() -> None:
    swings = (MISS, replace(HIT, excluded="a borrowed bat"), LOST)
    assert [(each.number, each.swing) for each in numbered(swings)] == [(1, MISS), (3, LOST)]


def test_one_block_alone_keeps_the_lesson_s_numbers() -> None:
    assert [each.number for each in numbered((HIT, replace(HIT, block="02-toss"), HIT), "01-tee")] == [1, 3]


@pytest.mark.parametrize(
    ("numbers", "said"),
    [((), ""), ((3,), "3"), ((3, 5), "3 and 5"), ((3, 5, 8), "3, 5 and 8"), ((1, 2, 3, 4), "4 swings")],
)
def test_numbers_are_said_as_a_person_says_them_and_many_only_counted(numbers: tuple[int, ...], said: str) -> None:
    assert numbers_said(numbers, most=3) == said
