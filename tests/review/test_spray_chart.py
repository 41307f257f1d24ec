"""The chart puts each ball where its record says, on the lesson's own field, for this batter."""

from dataclasses import replace
from math import radians, sqrt, tan
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse
from matplotlib.text import Annotation
from matplotlib.textpath import TextPath
from matplotlib.transforms import Bbox

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.spray_chart import draw_spray_chart, spots_of, words_of_spray_chart
from balltrack.review.style import MARKERS, chart_svg
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, MISS
from tests.review.invented import CLIPS, invented_swings

NO_FENCE = GOOD.replace("fence_ft = 275\nfence_height_ft = 6\n", "")
TOSS = replace(HIT, swing="02-toss/001#1", clip="clips/02-toss/001.mp4", block="02-toss")


def lesson_of(folder: Path, text: str = GOOD) -> Lesson:
    return load_lesson(make_lesson(folder, text, CLIPS))


def chart(folder: Path, swings: tuple[Swing, ...], text: str = GOOD, units: Units = "us") -> Figure:
    return draw_spray_chart(lesson_of(folder, text), swings, units)


def words_in(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.texts + figure.axes[0].texts]


def test_a_landing_spot_is_drawn_in_the_reader_s_unit() -> None:
    far = replace(HIT, landing_m=(30.48, 60.96), landing_cov_m2=((0.09290304, 0.0), (0.0, 0.0)))
    (spot,) = spots_of([MISS, far], "us")
    # Exact: 30.48 m = 100 ft, 0.3048² m² = 1 ft².
    assert spot.place == pytest.approx([100.0, 200.0])
    assert spot.covariance is not None
    assert spot.covariance[0, 0] == pytest.approx(1.0)
    assert spot.number == 2


def test_an_oval_holds_nine_in_ten_of_its_normal_distribution(tmp_path: Path) -> None:
    spread_m2 = np.array([[9.0, 4.0], [4.0, 4.0]])
    landing = replace(HIT, landing_m=(0.0, 60.0), landing_cov_m2=((9.0, 4.0), (4.0, 4.0)))
    figure = chart(tmp_path, (landing,), units="metric")
    oval = next(patch for patch in figure.axes[0].patches if isinstance(patch, Ellipse))
    rng = np.random.default_rng(1)
    spots = rng.multivariate_normal([0.0, 60.0], spread_m2, 20000)
    inside = oval.get_path().contains_points(oval.get_patch_transform().inverted().transform(spots))
    assert np.mean(inside) == pytest.approx(0.9, abs=0.01)  # four standard deviations of 20,000 draws are 0.0085


@pytest.mark.parametrize(("bats", "opposite_on"), [("right", "right"), ("left", "left")])
def test_the_opposite_field_is_named_on_this_batter_s_side_with_its_balls(
    tmp_path: Path, bats: str, opposite_on: str
) -> None:
    swings = (HIT, replace(HIT, field_side="opposite"), replace(HIT, field_side="opposite"))
    figure = chart(tmp_path, swings, GOOD.replace('bats = "right"', f'bats = "{bats}"'))
    sides = {text.get_text(): text.get_horizontalalignment() for text in figure.axes[0].texts}
    assert sides["opposite field\n2 balls"] == opposite_on
    assert sides["pull side\n0 balls"] == ("left" if opposite_on == "right" else "right")
    assert sides["middle\n1 ball"] == "center"


def test_blocks_differ_by_shape_and_are_named(tmp_path: Path) -> None:
    figure = chart(tmp_path, (HIT, TOSS))
    assert {"Tee, middle", "02-toss"} <= set(words_in(figure))
    assert "03-live" not in words_in(figure)  # no ball of it is in the picture
    shapes = {line.get_marker() for line in figure.axes[0].lines}
    assert set(MARKERS[:2]) <= shapes


def test_one_block_alone_keeps_its_swings_numbers_and_its_shape(tmp_path: Path) -> None:
    figure = draw_spray_chart(lesson_of(tmp_path), (HIT, TOSS), "us", block="02-toss")
    balls = {line.get_gid(): line.get_marker() for line in figure.axes[0].lines if line.get_gid()}
    assert balls == {"ball-2": MARKERS[1]}


def test_bases_and_fence_are_those_of_the_lesson(tmp_path: Path) -> None:
    figure = chart(tmp_path, ())
    lines = [line.get_xydata() for line in figure.axes[0].lines]
    places = [tuple(np.asarray(line)[0]) for line in lines if len(np.asarray(line)) == 1]
    # 65 ft bases: second base 65 √2 = 91.924 ft away, first base at 65/√2 = 45.962 to the right and ahead.
    assert any(place == pytest.approx((0, 65 * sqrt(2))) for place in places)
    assert any(place == pytest.approx((65 / sqrt(2), 65 / sqrt(2))) for place in places)
    fence = next(np.asarray(line) for line in lines if len(np.asarray(line)) == 91)
    assert np.hypot(*fence.T) == pytest.approx(275.0)  # one fence distance all round
    assert fence[0, 1] / fence[0, 0] == pytest.approx(-tan(radians(45)))
    assert "fence\n275 ft" in words_in(figure)


def test_a_fence_nearer_at_the_poles_says_all_three_distances(tmp_path: Path) -> None:
    figure = chart(tmp_path, (), GOOD.replace("fence_ft = 275", "fence_ft = [220, 250, 265, 250, 215]"))
    assert "fence, left to right\n220, 265, 215 ft" in words_in(figure)


@pytest.mark.parametrize("text", [GOOD, NO_FENCE])
def test_a_lesson_without_landing_spots_or_fence_still_has_a_chart(tmp_path: Path, text: str) -> None:
    assert "No landing spot was measured" in chart_svg(chart(tmp_path, (MISS,), text))


def test_a_ball_far_beyond_the_fence_is_still_in_the_picture(tmp_path: Path) -> None:
    far = replace(HIT, landing_m=(100.0, 130.0), landing_cov_m2=((4.0, 0.0), (0.0, 100.0)))
    axes = chart(tmp_path, (far,), units="metric").axes[0]
    # With its oval: 2.146 standard deviations of 2 m and 10 m on (0.9 = 1 - exp(-r²/2)).
    assert axes.get_xlim()[1] > 104.3
    assert axes.get_ylim()[1] > 151.5


def test_a_landing_spot_of_which_little_is_known_does_not_shrink_the_field(tmp_path: Path) -> None:
    vague = replace(HIT, landing_cov_m2=((1e4, 0.0), (0.0, 1e4)))  # 100 m of standard deviation
    axes = chart(tmp_path, (vague,), units="metric").axes[0]
    assert axes.get_xlim()[1] < 2 * 83.82  # 275 ft of fence


def test_the_words_count_the_balls_by_side_and_name_the_longest_and_those_over_the_fence(tmp_path: Path) -> None:
    over = replace(HIT, landing_m=(30.48, 82.0), fence_clear_probability=0.9, field_side="opposite")
    words = words_of_spray_chart(lesson_of(tmp_path), (HIT, MISS, over), "us")
    assert "landing spots of 2 balls" in words
    assert "0 to the pull side, 1 up the middle, 1 to the opposite field, which is right field" in words
    assert "swing 3, came down 287 ft" in words  # hypot(30.48, 82.0) = 87.48 m = 287.0 ft
    assert "over the fence: 3." in words


def test_swings_left_out_are_in_neither_picture_nor_words(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    swings = (HIT, replace(TOSS, excluded="a borrowed bat"))
    assert [spot.number for spot in spots_of(swings, "us")] == [1]
    assert "1 ball." in words_of_spray_chart(lesson, swings, "us")


def ink(axes: Axes, number: Annotation) -> Bbox:
    """Where the digits' own outlines lie on the sheet. [pt]"""
    outline = TextPath((0, 0), number.get_text(), size=float(number.get_fontsize())).get_extents()
    centre = axes.transData.transform(number.xy) + np.array(number.get_position())
    size = np.array([outline.width, outline.height])
    return Bbox([centre - size / 2, centre + size / 2])


def test_no_number_covers_a_mark_or_another_number_in_a_full_lesson(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    figure = draw_spray_chart(lesson, invented_swings(lesson, 60), "us")
    figure.canvas.draw()
    axes = figure.axes[0]
    boxes = [ink(axes, text) for text in axes.texts if isinstance(text, Annotation) and text.get_zorder() == 8]
    marks = [
        axes.transData.transform(np.asarray(line.get_xydata())[0])
        for line in axes.lines
        if str(line.get_gid()).startswith("ball-")
    ]
    assert len(boxes) > 0.8 * len(marks)
    for i, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[:i])
        assert not any(box.contains(*mark) for mark in marks)
