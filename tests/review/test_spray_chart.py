"""The chart puts each ball where its record says, on the lesson's own field, for this batter."""

from dataclasses import replace
from math import radians, sqrt, tan
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse

from balltrack.lesson import load_lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.page import scene_of
from balltrack.review.spray_chart import MARKERS, chart_svg, draw_spray_chart, spots_of
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, MISS


def chart(folder: Path, swings: tuple[Swing, ...], text: str = GOOD, units: Units = "us") -> Figure:
    clips = ("01-tee/001.mp4", "02-toss/001.mp4")
    return draw_spray_chart(scene_of(load_lesson(make_lesson(folder, text, clips)), swings, units))


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


@pytest.mark.parametrize(("bats", "opposite_sign"), [("right", 1), ("left", -1)])
def test_the_opposite_field_is_named_on_this_batter_s_side(tmp_path: Path, bats: str, opposite_sign: int) -> None:
    figure = chart(tmp_path, (HIT,), GOOD.replace('bats = "right"', f'bats = "{bats}"'))
    places = {text.get_text(): getattr(text, "xy", (0, 0))[0] for text in figure.axes[0].texts}
    assert np.sign(places["opposite field"]) == opposite_sign
    assert np.sign(places["pull side"]) == -opposite_sign


def test_blocks_differ_by_shape_and_are_named(tmp_path: Path) -> None:
    toss = replace(HIT, swing="02-toss/001#1", clip="clips/02-toss/001.mp4", block="02-toss")
    figure = chart(tmp_path, (HIT, toss))
    legend = figure.axes[0].get_legend()
    assert legend is not None
    assert [text.get_text() for text in legend.get_texts()] == ["Tee, middle", "02-toss"]
    shapes = {line.get_marker() for line in figure.axes[0].lines}
    assert set(MARKERS[:2]) <= shapes


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


@pytest.mark.parametrize("text", [GOOD, GOOD.replace("fence_ft = 275\nfence_height_ft = 6\n", "")])
def test_a_lesson_without_landing_spots_or_fence_still_has_a_chart(tmp_path: Path, text: str) -> None:
    assert "No landing spot was measured" in chart_svg(chart(tmp_path, (MISS,), text))


def test_a_ball_far_beyond_the_fence_is_still_in_the_picture(tmp_path: Path) -> None:
    far = replace(HIT, landing_m=(100.0, 130.0), landing_cov_m2=((4.0, 0.0), (0.0, 100.0)))
    axes = chart(tmp_path, (far,), units="metric").axes[0]
    # With its oval: 2.146 standard deviations of 2 m and 10 m on (0.9 = 1 - exp(-r²/2)).
    assert axes.get_xlim()[1] > 104.3
    assert axes.get_ylim()[1] > 151.5
