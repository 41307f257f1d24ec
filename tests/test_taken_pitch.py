"""A pitch let go and one only touched, from real encoded clips, against what the renderer threw."""

import json
from pathlib import Path

import pytest

from balltrack.lesson import load_lesson
from balltrack.measure import measure_clip
from balltrack.records.swing import Swing
from balltrack.setup import prepare

FILES = Path(__file__).parent / "pitched_files"


def measured(film: str) -> Swing:
    lesson = load_lesson(FILES)
    (clip,) = [each for each in lesson.clips if each.path.name == film]
    (swing,) = measure_clip(clip, prepare(lesson, None)).swings
    return swing


@pytest.fixture(scope="module")
def taken() -> Swing:
    return measured("take.mp4")


def test_a_pitch_that_the_batter_lets_go_is_a_take(taken: Swing) -> None:
    assert (taken.outcome, taken.ended) == ("no_contact", "take")
    assert taken.exit_speed_mps is None


def test_a_slow_pitch_arc_is_told_to_what_is_stated(taken: Swing) -> None:
    # Source: truth/pitches.json. It is in sight from the clip's start on; three stated sds, and those sds are small.
    truth = json.loads((FILES / "truth" / "pitches.json").read_text())["take.mp4"]
    assert taken.pitch_speed_mps is not None
    assert taken.pitch_speed_sd_mps is not None
    assert taken.pitch_speed_mps == pytest.approx(truth["speed_at_0_s_mps"], abs=3 * taken.pitch_speed_sd_mps)
    assert taken.pitch_speed_sd_mps < 0.7  # 1.5 mph
    assert taken.pitch_apex_m is not None
    assert taken.pitch_apex_sd_m is not None
    assert taken.pitch_apex_m == pytest.approx(truth["apex_m"], abs=3 * taken.pitch_apex_sd_m)
    assert taken.pitch_apex_sd_m < 0.1  # a ball's width
    assert taken.pitch_plate_m is not None
    assert taken.pitch_plate_sd_m is not None
    for told, sd, true in zip(taken.pitch_plate_m, taken.pitch_plate_sd_m, truth["plate_m"], strict=True):
        assert told == pytest.approx(true, abs=3 * sd)
        assert sd < 0.2


def test_a_ball_that_the_bat_turned_and_that_flew_on_is_a_tip() -> None:
    tipped = measured("tip.mp4")
    assert (tipped.outcome, tipped.ended) == ("not_measured", "tip")
    truth = json.loads((FILES / "truth" / "pitches.json").read_text())["tip.mp4"]
    assert tipped.contact_s == pytest.approx(truth["met_or_passed_s"], abs=1 / 60)  # a frame
    assert tipped.pitch_apex_m is not None
    assert tipped.pitch_apex_sd_m is not None
    assert tipped.pitch_apex_m == pytest.approx(truth["apex_m"], abs=3 * tipped.pitch_apex_sd_m)
