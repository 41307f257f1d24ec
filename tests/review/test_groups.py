"""Swings keep the numbers that they have in swings.jsonl, whatever group they are looked at in."""

from dataclasses import replace
from pathlib import Path

import pytest

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.review.groups import first_and_last, groups_of, lesson_group
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT

MORE = '[blocks."02-live"]\ndelivery = "live"\n[blocks."03-tee"]\ndelivery = "tee"\n'


@pytest.fixture
def lesson(tmp_path: Path) -> Lesson:
    clips = ("01-tee/001.mp4", "02-live/001.mp4", "03-tee/001.mp4", "04-more/001.mp4")
    return load_lesson(make_lesson(tmp_path, GOOD + MORE, clips))


def swings_in(*blocks: str) -> tuple[Swing, ...]:
    return tuple(replace(HIT, swing=f"{block}/{n}#1", block=block) for n, block in enumerate(blocks))


def test_the_whole_lesson_comes_first_then_each_block_with_swings(lesson: Lesson) -> None:
    groups = groups_of(lesson, swings_in("01-tee", "02-live", "02-live"))
    assert [(group.key, group.numbers) for group in groups] == [
        ("lesson", (1, 2, 3)),
        ("01-tee", (1,)),
        ("02-live", (2, 3)),
    ]
    assert groups[0].deliveries == ("tee", "live", "live")
    assert groups[1].title == "Tee, middle"  # as lesson.toml names it


def test_what_a_person_left_out_counts_nowhere_and_the_others_keep_their_numbers(lesson: Lesson) -> None:
    first, second, third = swings_in("01-tee", "01-tee", "02-live")
    whole, tee, live = groups_of(lesson, (first, replace(second, excluded="a fly on the lens"), third))
    assert (whole.numbers, whole.excluded) == ((1, 3), (2,))
    assert (tee.numbers, tee.excluded) == ((1,), (2,))
    assert (live.numbers, live.excluded) == ((3,), ())


def test_a_block_that_was_left_out_whole_still_says_so(lesson: Lesson) -> None:
    (swing,) = swings_in("01-tee")
    _, tee = groups_of(lesson, (replace(swing, excluded="wrong ball"),))
    assert (tee.numbers, tee.excluded) == ((), (1,))


def test_first_and_last_are_taken_within_each_kind_of_delivery(lesson: Lesson) -> None:
    # Tee 1, 2, 5, 6 and live 3, 4: as many of each kind in both, or the pitch would be compared and not the player.
    swings = swings_in("01-tee", "01-tee", "02-live", "02-live", "03-tee", "03-tee")
    first, last = first_and_last(lesson_group(lesson, swings))
    assert (first.numbers, last.numbers) == ((1, 2, 3), (4, 5, 6))
    assert (first.title, last.title) == ("First of each kind (3 swings)", "Last of each kind (3 swings)")
    assert sorted(map(str, first.deliveries)) == sorted(map(str, last.deliveries))


def test_first_and_last_never_share_a_swing_and_hold_ten_of_a_kind_at_most(lesson: Lesson) -> None:
    for count in (0, 1, 3, 19, 20, 45):
        first, last = first_and_last(lesson_group(lesson, swings_in(*["01-tee"] * count)))
        assert len(first.numbers) == len(last.numbers) == min(10, count // 2)
        assert not set(first.numbers) & set(last.numbers)
        assert last.title == f"Last {min(10, count // 2)} swings"


def test_where_no_delivery_is_stated_each_block_is_a_kind(lesson: Lesson) -> None:
    swings = swings_in("01-tee", "04-more", "01-tee", "04-more")
    first, last = first_and_last(lesson_group(lesson, swings))
    assert (first.numbers, last.numbers) == ((1, 2), (3, 4))
