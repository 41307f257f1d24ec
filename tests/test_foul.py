"""A ball hit foul, from a real encoded clip, against what the renderer hit."""

import json
from pathlib import Path

import pytest

from balltrack.lesson import load_lesson
from balltrack.measure import measure_clip
from balltrack.setup import prepare

FILES = Path(__file__).parent / "foul_files"


def test_a_ball_hit_6_degrees_beyond_the_line_is_a_foul_and_is_measured_as_any_other() -> None:
    lesson = load_lesson(FILES)
    (swing,) = measure_clip(lesson.clips[0], prepare(lesson, None)).swings
    truth = json.loads((FILES / "truth.json").read_text())
    assert (swing.outcome, swing.ended) == ("measured", "foul")
    assert swing.exit_speed_mps is not None
    assert swing.exit_speed_sd_mps is not None
    assert swing.spray_deg is not None
    assert swing.spray_sd_deg is not None
    # Three of the stated standard deviations; these must be of use: 5 mph, and less than the 6 degrees to the line.
    assert swing.exit_speed_mps == pytest.approx(truth["exit_speed_mps"], abs=3 * swing.exit_speed_sd_mps)
    assert swing.exit_speed_sd_mps < 2.2
    assert swing.spray_deg == pytest.approx(truth["spray_deg"], abs=3 * swing.spray_sd_deg)
    assert swing.spray_sd_deg < 2.0
