"""Swings stand in their order, with their error, and what has no number is not hidden."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from balltrack.lesson import Lesson, load_lesson
from balltrack.review.order_chart import draw_order_chart, words_of_order_chart
from balltrack.review.style import MARKERS
from tests.lesson.lessons import make_lesson
from tests.records.swings import HIT, LOST, MISS
from tests.review.invented import CLIPS, invented_swings

TOSS = replace(HIT, block="02-toss", exit_speed_mps=33.528)  # 75 mph


@pytest.fixture
def lesson(tmp_path: Path) -> Lesson:
    return load_lesson(make_lesson(tmp_path, clips=CLIPS))


def marks(figure: Figure, marker: str) -> list[list[float]]:
    return [
        [round(float(value), 2) for value in place]
        for line in figure.axes[0].lines
        if line.get_marker() == marker
        for place in np.asarray(line.get_xydata())
    ]


def test_each_swing_stands_at_its_number_with_nine_in_ten_of_its_error(lesson: Lesson) -> None:
    figure = draw_order_chart(lesson, (MISS, HIT, TOSS), "us")
    assert marks(figure, MARKERS[0]) == [[2.0, 67.11]]  # 30 m/s over 0.44704
    assert marks(figure, MARKERS[1]) == [[3.0, 75.0]]
    bars = [np.asarray(line.get_xydata()) for line in figure.axes[0].lines]
    heights = [np.ptp(bar[:, 1]) for bar in bars if len(bar) == 2 and bar[0, 0] == bar[1, 0] == 2.0]
    assert heights == pytest.approx([2 * 1.645 * 0.2 / 0.44704], abs=1e-3)


def test_misses_and_swings_without_a_number_are_marked_below_and_explained(lesson: Lesson) -> None:
    figure = draw_order_chart(lesson, (MISS, HIT, LOST), "us")
    (miss,), (lost,) = marks(figure, "x"), marks(figure, "$?$")
    assert (miss[0], lost[0]) == (1.0, 3.0)
    assert max(miss[1], lost[1]) < min(figure.axes[0].get_yticks())
    note = " ".join(text.get_text() for text in figure.texts)
    assert "×: missed. ?: hit, no number." in note


def test_a_swing_left_out_leaves_its_place_empty(lesson: Lesson) -> None:
    figure = draw_order_chart(lesson, (HIT, replace(HIT, excluded="a borrowed bat"), HIT), "us")
    assert [place[0] for place in marks(figure, MARKERS[0])] == [1.0, 3.0]


def test_each_block_has_its_name_and_its_median(lesson: Lesson) -> None:
    swings = (HIT, replace(HIT, exit_speed_mps=35.7632), TOSS, TOSS, TOSS)  # the second: 80 mph
    shown = [text.get_text() for text in draw_order_chart(lesson, swings, "us").axes[0].texts]
    assert {"Tee, middle", "74", "02-toss", "75"} <= set(shown)  # (67.11 + 80) / 2 = 73.6


@pytest.mark.parametrize("count", [150, 60])
def test_a_long_lesson_fits_its_axes_and_numbers_few_of_its_swings(lesson: Lesson, count: int) -> None:
    axes = draw_order_chart(lesson, invented_swings(lesson, count), "us").axes[0]
    assert len(axes.get_xticks()) < 16
    low, high = axes.get_ylim()
    for line in axes.lines:
        values = np.asarray(line.get_ydata(), float)
        if not np.isin(values, [0.0, 1.0]).all():  # lines across the whole axes count in shares
            assert low <= values.min() <= values.max() <= high


def test_the_words_tell_each_block_and_name_what_is_missing(lesson: Lesson) -> None:
    words = words_of_order_chart(lesson, (HIT, MISS, LOST, TOSS), "us")
    assert words == (
        "Exit speed swing by swing, 4 swings. Tee, middle: from 67 to 67 mph, typical 67. "
        "02-toss: from 75 to 75 mph, typical 75. Missed: 2. Without a number: 3."
    )


@pytest.mark.parametrize("swings", [(), (MISS,), (HIT,)])
def test_the_smallest_lessons_have_a_chart(lesson: Lesson, swings: tuple[()]) -> None:
    assert draw_order_chart(lesson, swings, "metric").axes
