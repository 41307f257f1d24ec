"""Flights are drawn as high as they were, over the lesson's own fence."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.review.side_chart import draw_side_chart, words_of_side_chart
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import MISS
from tests.review.invented import CLIPS, invented_swings

FT = 0.3048  # exact


def lesson_of(folder: Path, text: str = GOOD) -> Lesson:
    return load_lesson(make_lesson(folder, text, CLIPS))


def flights(figure: Figure) -> list[np.ndarray]:
    lines = (np.asarray(line.get_xydata()) for line in figure.axes[0].lines if line.get_zorder() == 4)
    return [line for line in lines if len(line)]


def words_in(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.texts + figure.axes[0].texts]


def measured(lesson: Lesson, count: int = 8) -> tuple[Swing, ...]:
    return tuple(swing for swing in invented_swings(lesson, count) if swing.landing_m)


def test_a_flight_starts_at_the_contact_rises_to_its_highest_point_and_ends_at_its_carry(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    for swing in measured(lesson):
        assert swing.contact_m is not None
        assert swing.carry_m is not None
        assert swing.apex_m is not None
        (line,) = flights(draw_side_chart(lesson, (swing,), "us"))[:1]
        assert line[0] == pytest.approx([np.hypot(*swing.contact_m[:2]) / FT, swing.contact_m[2] / FT], abs=1e-6)
        assert line[-1, 0] == pytest.approx(swing.carry_m / FT, abs=0.3)  # a third of a foot is a third of a point
        assert line[:, 1].max() == pytest.approx(swing.apex_m / FT, abs=0.5)


def test_heights_and_distances_have_one_scale(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    axes = draw_side_chart(lesson, measured(lesson), "us").axes[0]
    wide, high = axes.get_window_extent().size
    assert wide / np.ptp(axes.get_xlim()) == pytest.approx(high / np.ptp(axes.get_ylim()), rel=1e-3)


def test_the_fence_stands_at_its_distance_and_is_as_high_as_entered(tmp_path: Path) -> None:
    axes = draw_side_chart(lesson_of(tmp_path), (), "us").axes[0]
    posts = [np.asarray(line.get_xydata()) for line in axes.lines if line.get_linewidth() > 3]
    assert np.allclose(posts, [[[275.0, 0.0], [275.0, 6.0]]])
    uneven = GOOD.replace("fence_ft = 275", "fence_ft = [220, 250, 265, 250, 215]")
    axes = draw_side_chart(lesson_of(tmp_path / "uneven", uneven), (), "us").axes[0]
    (band,) = [patch for patch in axes.patches if isinstance(patch, Rectangle)]
    assert np.array(band.get_bbox().extents) == pytest.approx([215.0, 0.0, 265.0, 6.0])


def test_a_flight_over_the_fence_goes_on_dotted(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    short = lesson_of(tmp_path / "short", GOOD.replace("fence_ft = 275", "fence_ft = 100"))
    far = max(measured(lesson), key=lambda swing: swing.carry_m or 0.0)
    assert len(flights(draw_side_chart(lesson, (far,), "us"))) == 1
    before, beyond = flights(draw_side_chart(short, (far,), "us"))
    assert before[-1, 0] == pytest.approx(100.0, abs=4.0)  # drawn in pieces of a few feet
    assert beyond[0] == pytest.approx(before[-1])


def test_foul_balls_are_not_in_the_picture(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    fair = measured(lesson)[0]
    x, y = fair.landing_m or (0.0, 0.0)
    carry_m = float(np.hypot(x, y))
    foul = replace(fair, spray_deg=60.0, landing_m=(carry_m * np.sin(np.pi / 3), carry_m * np.cos(np.pi / 3)))
    assert len(flights(draw_side_chart(lesson, (fair, foul), "us"))) == 1
    assert "flights of 1 fair ball " in words_of_side_chart(lesson, (fair, foul), "us")


def test_chances_over_the_fence_are_told_in_words(tmp_path: Path) -> None:
    lesson = lesson_of(tmp_path)
    swings = [replace(swing, fence_clear_probability=0.0) for swing in measured(lesson)]
    assert "None is likely to clear the fence." in words_of_side_chart(lesson, swings, "us")
    swings[2] = replace(swings[2], fence_clear_probability=0.8)
    assert "Chance over the fence: swing 3 80 %." in words_of_side_chart(lesson, swings, "us")
    assert any("more likely" in words.lower() for words in words_in(draw_side_chart(lesson, swings, "us")))


@pytest.mark.parametrize("text", [GOOD, GOOD.replace("fence_ft = 275\nfence_height_ft = 6\n", "")])
def test_without_a_flight_chart_and_words_say_so(tmp_path: Path, text: str) -> None:
    lesson = lesson_of(tmp_path, text)
    assert "No flight was measured" in words_in(draw_side_chart(lesson, (MISS,), "us"))
    assert "No flight was measured" in words_of_side_chart(lesson, (MISS,), "us")
