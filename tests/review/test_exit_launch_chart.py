"""Each swing stands at its speed and launch, with its error, over curves that mean what they say."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.table import Units
from balltrack.review.bands import Bands
from balltrack.review.exit_launch_chart import draw_exit_launch_chart, words_of_exit_launch_chart
from balltrack.review.flown import carry_chart
from balltrack.review.style import MARKERS
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, LOST, MISS
from tests.review.invented import CLIPS, invented_swings


def lesson_of(folder: Path, text: str = GOOD) -> Lesson:
    return load_lesson(make_lesson(folder, text, CLIPS))


def words_in(figure: Figure) -> str:
    return " ".join(text.get_text() for text in figure.texts + figure.axes[0].texts)


@pytest.mark.parametrize(("units", "speed"), [("us", 67.108), ("metric", 108.0)])  # 30 m/s over 0.44704, times 3.6
def test_a_swing_stands_at_its_speed_and_launch_in_the_reader_s_unit(
    tmp_path: Path, units: Units, speed: float
) -> None:
    axes = draw_exit_launch_chart(lesson_of(tmp_path), (HIT, MISS, LOST), units).axes[0]
    (mark,) = [line for line in axes.lines if line.get_marker() == MARKERS[0]]
    assert np.asarray(mark.get_xydata())[0] == pytest.approx([speed, 20.0], abs=1e-3)
    lines = [np.asarray(line.get_xydata()) for line in axes.lines]
    spans = [np.ptp(line, axis=0) for line in lines if len(line) == 2]
    # 90 in 100 of a normal distribution: 1.645 sd to each side, of 0.2 m/s and 0.3°.
    assert any(span == pytest.approx([2 * 1.645 * 0.2 * speed / 30, 0.0], abs=1e-3) for span in spans)
    assert any(span == pytest.approx([0.0, 2 * 1.645 * 0.3], abs=1e-3) for span in spans)


def test_the_curves_pass_where_a_flight_of_this_ball_would_carry_so_far(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    axes = draw_exit_launch_chart(lesson, (HIT,), "us").axes[0]
    carries = next(each for each in axes.collections if isinstance(each, ContourSet) and len(list(each.levels)) > 1)
    level = 1
    path = np.asarray(carries.get_paths()[level].vertices)
    speed_mph, launch = path[len(path) // 2]
    assert list(carries.levels)[level] == 100.0
    flown = carry_chart(lesson, np.array([speed_mph * 0.44704]), np.array([launch]), contact_m=0.8)  # HIT's contact
    assert flown.carry_m[0, 0] / 0.3048 == pytest.approx(100.0, abs=1.0)  # the line is drawn 1 ft wide


def test_the_kinds_of_flight_follow_bands_that_may_be_others(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    assert "line drive · 1" in words_in(draw_exit_launch_chart(lesson, (HIT,), "us"))  # 20° of 10 to 25
    low = Bands(line_drive_deg=18.0)
    assert "fly ball · 1" in words_in(draw_exit_launch_chart(lesson, (HIT,), "us", low))
    assert "1 fly ball." in words_of_exit_launch_chart(lesson, (HIT,), "us", low)


def test_what_is_assumed_of_the_curves_is_said(tmp_path: Path) -> None:
    said = words_in(draw_exit_launch_chart(lesson_of(tmp_path), (HIT,), "us"))
    for words in ("usual spin", "level ground", "no wind", "1.20 kg/m³", "Dashed: just over the fence"):
        assert words in said, words
    windy = GOOD.replace("temperature_c = 20", "temperature_c = 20\nwind_mps = [0.0, 3.0]")
    assert "in the wind entered" in words_in(draw_exit_launch_chart(lesson_of(tmp_path / "windy", windy), (HIT,), "us"))


def test_every_swing_of_a_long_lesson_lies_inside_the_axes(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    axes = draw_exit_launch_chart(lesson, invented_swings(lesson, 60), "us").axes[0]
    lines = [np.asarray(line.get_xydata()) for line in axes.lines]
    marks = np.array([line[0] for line in lines if len(line) == 1])
    assert len(marks) == 52  # of 60, 4 misses and 4 without a number
    for values, (low, high) in zip(marks.T, (axes.get_xlim(), axes.get_ylim()), strict=True):
        assert low < values.min() < values.max() < high


def test_the_words_name_the_hardest_and_leave_out_what_was_left_out(tmp_path: Path) -> None:
    harder = replace(HIT, exit_speed_mps=40.0, excluded="a borrowed bat")
    words = words_of_exit_launch_chart(lesson_of(tmp_path), (HIT, harder), "us")
    assert "for 1 measured swing: 1 line drive." in words
    assert "swing 1, left the bat at 67 mph and 20°" in words  # 30 m/s = 67.1 mph


def test_without_a_measured_swing_the_chart_says_so(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    assert "No exit speed was measured" in words_in(draw_exit_launch_chart(lesson, (MISS,), "us"))
    assert "No exit speed was measured" in words_of_exit_launch_chart(lesson, (MISS,), "us")
