"""The pitch of a filmed swing, from a real encoded clip, against what the renderer threw.

The renderer shares no projection and no flight with the package.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from render.play import Play, plan
from render.scene_spec import SceneSpec

from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.terminal import pitch_table

SAMPLE = Path(__file__).parents[1] / "sample_clips"
TOSSED = "02-toss/swing-05.mp4"
NINE_IN_TEN = 1.645

pytestmark = pytest.mark.skipif(not (SAMPLE / "lesson.toml").is_file(), reason="the sample lesson is not here")


def swing_of(lesson: Path, clip: str) -> Swing:
    (swing,) = [each for each in read_swings(lesson / "results" / "swings.jsonl") if each.clip.endswith(clip)]
    return swing


@pytest.fixture(scope="module")
def tossed(measured_sample: Path) -> Swing:
    return swing_of(measured_sample, TOSSED)


@pytest.fixture(scope="module")
def thrown() -> Play:
    """The toss as it was drawn, by the scene that stands beside the truth; held to the truth's own contact."""
    scene = json.loads((SAMPLE / "truth" / "camera.json").read_text())["scene"]
    fields: dict[str, Any] = {name: tuple(each) if isinstance(each, list) else each for name, each in scene.items()}
    spec = SceneSpec(**fields)
    play = plan(spec, "toss", 4, "hit")
    lines = (SAMPLE / "truth" / "swings.jsonl").read_text().splitlines()
    (line,) = [each for each in map(json.loads, lines) if each["clip"] == TOSSED]
    assert play.contact_s == pytest.approx(line["contact_s"], abs=1e-9)
    return play


def test_a_toss_is_followed_to_the_bat_and_its_speed_and_top_are_right(tossed: Swing, thrown: Play) -> None:
    assert tossed.pitch_frames is not None
    assert tossed.pitch_frames >= 6
    times = np.linspace(max(thrown.release_s, 0.0), thrown.contact_s - 0.01, 400)
    places = thrown.ball(times)
    speeds = np.linalg.norm(np.diff(places, axis=0), axis=1) / np.diff(times)
    assert tossed.pitch_speed_mps is not None
    assert tossed.pitch_speed_sd_mps is not None
    # It may be first seen at any time from the hand to 0.3 s before contact.
    seen = speeds[times[1:] < thrown.contact_s - 0.3]
    slack = 3 * tossed.pitch_speed_sd_mps
    assert seen.min() - slack < tossed.pitch_speed_mps < seen.max() + slack
    assert tossed.pitch_speed_sd_mps < 0.5
    assert tossed.pitch_apex_m is not None
    assert tossed.pitch_apex_m == pytest.approx(places[:, 2].max(), abs=0.05)  # half a ball


def test_where_the_bat_met_the_toss_agrees_with_the_toss_itself(tossed: Swing) -> None:
    assert tossed.contact_off_pitch_m is not None
    assert tossed.contact_off_pitch_sd_m is not None
    off = np.abs(tossed.contact_off_pitch_m) / np.array(tossed.contact_off_pitch_sd_m)
    assert np.max(off) < 3.0
    assert tossed.early_s is not None
    assert tossed.contact_depth_m is not None
    # Source: it is met ahead of the plate's front, so the ball was still to come there.
    assert (tossed.early_s > 0) == (tossed.contact_depth_m > 0)


def test_a_ball_from_a_tee_has_no_pitch(measured_sample: Path) -> None:
    tee = swing_of(measured_sample, "01-tee/swing-03.mp4")
    assert (tee.pitch_speed_mps, tee.pitch_frames, tee.early_s) == (None, None, None)
    assert tee.ended in ("fair", "foul", None)


def test_the_terminal_shows_the_pitch(tossed: Swing) -> None:
    from rich.console import Console

    console = Console(width=110)
    with console.capture() as shown:
        console.print(pitch_table([tossed], "us"))
    words = shown.get()
    assert "Over the plate" in words
    assert tossed.pitch_speed_mps is not None
    assert f"{tossed.pitch_speed_mps / 0.44704:.1f} ±" in words  # 1 mph = 0.44704 m/s, by definition
