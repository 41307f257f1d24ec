"""Balls fly again as their records say, and hits that nobody made fly as the closed forms say."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.air import Air
from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.motion import GRAVITY_MPS2
from balltrack.lesson import Lesson, load_lesson
from balltrack.review.flown import carry_chart, fly_again
from balltrack.review.numbered import numbered
from tests.lesson.lessons import make_lesson
from tests.records.swings import HIT, LOST, MISS
from tests.review.invented import CLIPS, invented_swings

THIN_AIR = Air(1e-9, 20.0, (0.0, 0.0))


@pytest.fixture
def lesson(tmp_path: Path) -> Lesson:
    return load_lesson(make_lesson(tmp_path, clips=CLIPS))


def test_without_air_carry_and_height_at_the_fence_are_those_of_a_parabola(lesson: Lesson) -> None:
    bare = replace(lesson, air=THIN_AIR)
    speed, launch_deg, radius = np.array([25.0, 35.0]), np.array([15.0, 35.0]), lesson.ball.diameter_m / 2
    chart = carry_chart(bare, speed, launch_deg, contact_m=radius)
    angle = np.radians(launch_deg)[:, None]
    # Source: R = v² sin 2θ / g, level ground; the ball's centre starts and ends one radius up.
    assert chart.carry_m == pytest.approx(PLATE_DEPTH_M + speed**2 * np.sin(2 * angle) / GRAVITY_MPS2, abs=1e-3)
    # Source: z = x tan θ - g x² / (2 v² cos² θ); straight pieces between knots are 8 mm off at most.
    assert lesson.fence is not None
    x = float(lesson.fence.distance_m(0.0)) - PLATE_DEPTH_M
    height = x * np.tan(angle) - GRAVITY_MPS2 * x**2 / (2 * speed**2 * np.cos(angle) ** 2)
    assert chart.over_fence_m is not None
    flies_over = chart.carry_m > x
    assert flies_over.any()
    assert chart.over_fence_m[flies_over] == pytest.approx((height - lesson.fence.height_m)[flies_over], abs=0.01)
    assert np.all(chart.over_fence_m[~flies_over] < 0)


def test_a_flight_flown_again_comes_down_and_rises_where_it_did(lesson: Lesson) -> None:
    swings = numbered(invented_swings(lesson, 60))  # each with drag and lift that its record does not say
    flights = fly_again(lesson, swings)
    assert [each.number for each in flights] == [each.number for each in swings if each.swing.outcome == "measured"]
    for each in flights:
        # 10 cm: a tenth of what a picture of 100 m on a phone could show.
        assert each.places_m[0] == pytest.approx(np.array(each.swing.contact_m), abs=1e-9)
        assert each.places_m[-1, :2] == pytest.approx(np.array(each.swing.landing_m), abs=0.1)
        assert each.places_m[:, 2].max() == pytest.approx(each.swing.apex_m, abs=0.15)


def test_what_has_no_landing_is_not_flown(lesson: Lesson) -> None:
    grounded = replace(HIT, landing_m=None, hang_s=None)
    assert fly_again(lesson, numbered((MISS, LOST, grounded))) == ()


@pytest.mark.parametrize("landing_m", [(0.0, 500.0), (-80.0, -40.0), (300.0, 1.0)])
@pytest.mark.parametrize("hang_s", [0.02, 60.0])
def test_a_record_whose_end_does_not_go_with_its_start_is_drawn_all_the_same(
    lesson: Lesson, landing_m: tuple[float, float], hang_s: float
) -> None:
    odd = replace(HIT, landing_m=landing_m, hang_s=hang_s)
    flight = fly_again(lesson, numbered((odd,)))[0]
    assert np.isfinite(flight.places_m).all()
    assert flight.places_m[-1, 2] == pytest.approx(lesson.ball.diameter_m / 2, abs=0.01)  # on the ground
