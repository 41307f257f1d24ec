"""Ball and plate are to scale, the ball lies where the bat met it, and early, late and jammed are told apart."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.review.contact_chart import draw_contact_chart, words_of_contact_chart
from balltrack.review.style import MARKERS
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, LOST, MISS
from tests.review.invented import CLIPS, invented_swings

LIVE = GOOD + '[blocks."03-live"]\ndelivery = "live"\n'


def lesson_of(folder: Path, text: str = LIVE) -> Lesson:
    return load_lesson(make_lesson(folder, text, CLIPS))


def met(across_m: float, depth_m: float) -> Swing:
    """A live pitch met so far toward first base and ahead of the front edge (17 in from the tip), waist high."""
    return replace(
        HIT,
        block="03-live",
        contact_m=(across_m, 0.4318 + depth_m, 0.8),
        contact_sd_m=(0.01, 0.01, 0.01),
        contact_depth_m=depth_m,
    )


def views(figure: Figure) -> dict[str, int]:
    return {axes.get_title(loc="left").split(",")[0]: i for i, axes in enumerate(figure.axes)}


def test_ball_and_plate_have_their_own_size_in_both_views(tmp_path: Path) -> None:
    figure = draw_contact_chart(lesson_of(tmp_path), (met(0.1, 0.07),), "us")
    # Source: a 12-inch ball is 12 in / pi = 97.0 mm across (rule book, middle of its limits).
    for axes in figure.axes:
        radii = [patch.get_radius() for patch in axes.patches if isinstance(patch, Circle)]
        assert radii == pytest.approx([0.0485, 0.0485], abs=1e-4)  # a disc and its ring
        wide, high = axes.get_window_extent().size
        scale = wide / abs(np.ptp(axes.get_xlim())), high / abs(np.ptp(axes.get_ylim()))
        assert scale[0] == pytest.approx(scale[1], rel=1e-3)
    above = figure.axes[views(figure)["from above"]]
    plate = next(patch for patch in above.patches if type(patch) is Polygon)
    # Source: Official Baseball Rules 2.02: 17 in wide and deep.
    assert np.ptp(plate.get_xy(), axis=0) == pytest.approx([0.4318, 0.4318])


def test_the_ball_lies_ahead_of_the_front_edge_toward_first_base_and_at_its_height(tmp_path: Path) -> None:
    figure = draw_contact_chart(lesson_of(tmp_path), (met(0.1, 0.07),), "us")
    above, side = (figure.axes[views(figure)[name]] for name in ("from above", "from the side"))
    for axes, place in ((above, [0.07, 0.1]), (side, [0.07, 0.8])):
        (ball,) = [line for line in axes.lines if line.get_marker() == MARKERS[2]]
        assert np.asarray(ball.get_xydata())[0] == pytest.approx(place)
    assert above.yaxis_inverted()  # first base, positive x, is below: left field is up where the pitcher is right


@pytest.mark.parametrize(("bats", "sign"), [("right", -1), ("left", 1)])
def test_the_batter_stands_on_his_own_side_and_is_jammed_there(tmp_path: Path, bats: str, sign: int) -> None:
    lesson = lesson_of(tmp_path, LIVE.replace('bats = "right"', f'bats = "{bats}"'))
    figure = draw_contact_chart(lesson, (), "us")
    above = figure.axes[views(figure)["from above"]]
    heights = {text.get_text(): getattr(text, "xy", (0.0, 0.0))[1] for text in above.texts}
    assert all(np.sign(heights[words]) == sign for words in ("batter", "← jammed", "inside"))
    assert np.sign(heights["← late"]) == np.sign(heights["outside"]) == -sign


def test_early_late_and_jammed_swings_are_bold_and_named(tmp_path: Path) -> None:
    # Usual zones: middle -2 to 12 in, inside 4 to 18 in ahead of the front edge (see bands.py).
    on_time, early, late, jammed = met(0.0, 0.1), met(0.0, 0.45), met(0.0, -0.2), met(-0.2, -0.1)
    lesson = lesson_of(tmp_path)
    words = words_of_contact_chart(lesson, (on_time, early, late, jammed), "us")
    for said in ("Early: 2.", "On time: 1.", "Late: 3.", "Jammed: 4."):
        assert said in words, said
    axes = draw_contact_chart(lesson, (on_time, early, late, jammed), "us").axes[0]
    rings = [patch.get_linewidth() for patch in axes.patches if isinstance(patch, Circle) and not patch.get_fill()]
    assert [width > 1 for width in rings] == [False, True, True, True]


def test_off_a_tee_nobody_is_late_and_the_chart_says_whose_depth_it_is(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    tee = replace(met(0.0, -0.3), block="01-tee")
    assert "Late" not in words_of_contact_chart(lesson, (tee,), "us")
    note = " ".join(text.get_text() for text in draw_contact_chart(lesson, (tee,), "us").texts)
    assert "Off a tee, depth is where the tee stood." in note
    assert "±0.6 in along" in note  # 1.645 * 1 cm over 2.54


def test_a_low_ball_brings_the_ground_and_the_plate_into_the_side_view(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    low = replace(met(0.0, 0.0), contact_m=(0.0, 0.4318, 0.2))
    for swing, ground in ((low, True), (met(0.0, 0.0), False)):
        figure = draw_contact_chart(lesson, (swing,), "metric")
        assert (figure.axes[views(figure)["from the side"]].get_ylim()[0] < 0) == ground


@pytest.mark.parametrize("swings", [(), (MISS, LOST)])
def test_without_a_contact_chart_and_words_say_so(tmp_path: Path, swings: tuple[Swing, ...]) -> None:
    lesson = lesson_of(tmp_path)
    figure = draw_contact_chart(lesson, swings, "us")
    assert any(text.get_text() == "No contact was measured" for axes in figure.axes for text in axes.texts)
    assert "No contact was measured" in words_of_contact_chart(lesson, swings, "us")


def test_every_ball_of_a_long_lesson_lies_inside_both_views(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    for axes in draw_contact_chart(lesson, invented_swings(lesson, 60), "us").axes:
        balls = [patch for patch in axes.patches if isinstance(patch, Circle)]
        assert len(balls) == 2 * 52  # of 60, 4 misses and 4 without a number; each a disc and its ring
        for ball in balls:
            (left, right), (low, high) = axes.get_xlim(), sorted(axes.get_ylim())
            x, y = np.asarray(ball.get_center())
            assert left < x < right
            assert low < y < high
