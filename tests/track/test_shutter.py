"""The shutter time from streaks: while it is open the ball moves by speed times time, and nothing else draws it out."""

import numpy as np
import pytest

from balltrack.track.shutter import likely_exposure_s, told_exposure_s
from balltrack.units import Floats

WIDTH_PX = np.linspace(24.0, 10.0, 20)  # as it flies off
SPEED_PXPS = np.linspace(3000.0, 700.0, 20)


@pytest.mark.parametrize("shutter", [60, 120, 240])
def test_rows_that_agree_tell_the_time(shutter: int) -> None:
    rng = np.random.default_rng(1)
    streak = SPEED_PXPS / shutter * rng.normal(1.0, 0.08, 20)  # found to a twelfth
    found = told_exposure_s(streak, WIDTH_PX, SPEED_PXPS)
    assert found == pytest.approx(1 / shutter, rel=0.08)  # that of a single row, far more than the median's


def test_a_sharp_ball_tells_nothing_though_its_seams_look_like_a_streak() -> None:
    rng = np.random.default_rng(2)
    seams: Floats = np.abs(rng.normal(0.0, 0.2, 20)) * WIDTH_PX  # in no step with how fast it moves
    assert told_exposure_s(seams, WIDTH_PX, SPEED_PXPS) is None
    assert told_exposure_s(0.3 * WIDTH_PX, WIDTH_PX, SPEED_PXPS) is None  # shade does so, in all rows alike
    assert told_exposure_s(SPEED_PXPS / 4000, WIDTH_PX, SPEED_PXPS) is None  # 3 hundredths of its width


def test_few_rows_and_a_ball_at_rest_in_the_picture_tell_nothing() -> None:
    assert told_exposure_s(np.full(3, 9.0), np.full(3, 9.0), np.full(3, 900.0)) is None
    assert told_exposure_s(np.full(9, 9.0), np.full(9, 9.0), np.zeros(9)) is None
    assert told_exposure_s(np.zeros(0), np.zeros(0), np.zeros(0)) is None


def test_a_few_rows_that_took_the_bat_for_part_of_the_ball_do_not_speak_for_the_others() -> None:
    streak = SPEED_PXPS / 4000  # a twentieth of its width: it looks round
    streak[:3] = 0.9 * WIDTH_PX[:3]
    assert likely_exposure_s(streak, WIDTH_PX, SPEED_PXPS) == pytest.approx(1 / 4000)


def test_where_all_rows_show_a_streak_they_tell_the_time_alike() -> None:
    rng = np.random.default_rng(3)
    streak = SPEED_PXPS / 120 * rng.normal(1.0, 0.08, 20)
    likely = likely_exposure_s(streak, WIDTH_PX, SPEED_PXPS)
    assert likely == told_exposure_s(streak, WIDTH_PX, SPEED_PXPS) == pytest.approx(1 / 120, rel=0.08)


def test_a_ball_at_rest_in_the_picture_makes_no_shutter_time_likely() -> None:
    assert likely_exposure_s(np.full(9, 9.0), np.full(9, 9.0), np.zeros(9)) is None
    assert likely_exposure_s(np.zeros(0), np.zeros(0), np.zeros(0)) is None
