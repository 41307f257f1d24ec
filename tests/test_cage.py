"""Hits into a wall and a net, end to end: they end the flight, and what comes back is no second swing.

Truth comes from the renderer, which shares no projection and no flight with the package.
"""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from balltrack.detect.network import load_network
from balltrack.lesson import load_lesson
from balltrack.measure import ClipResult, measure_clip
from balltrack.setup import prepare

FILES = Path(__file__).parent / "cage_files"
VENUES = ("wall", "net")
NINE_IN_TEN = 1.645
FRAME_S = 1 / 60


@dataclass(frozen=True)
class Stopped:
    """What was measured of a clip, and its line of truth/swings.jsonl."""

    result: ClipResult
    truth: dict[str, float]


def measured(venue: str) -> Stopped:
    lesson = load_lesson(FILES / venue)
    (clip,) = lesson.clips
    (line,) = (FILES / venue / "truth" / "swings.jsonl").read_text().splitlines()
    return Stopped(measure_clip(clip, prepare(lesson, load_network())), json.loads(line))


@pytest.fixture(scope="module")
def hits() -> dict[str, Stopped]:
    return {venue: measured(venue) for venue in VENUES}


@pytest.mark.parametrize("venue", VENUES)
def test_a_hit_that_is_stopped_after_4_m_is_measured_within_its_stated_interval(
    venue: str, hits: dict[str, Stopped]
) -> None:
    swing, truth = hits[venue].result.swings[0], hits[venue].truth
    assert swing.outcome == "measured"
    for name in ("exit_speed_mps", "launch_deg", "spray_deg"):
        value, sd = getattr(swing, name), getattr(swing, name.replace("_mps", "_sd_mps").replace("_deg", "_sd_deg"))
        assert abs(value - truth[name]) < NINE_IN_TEN * sd, name
    # Eight frames of flight: a speed that is not known to 1 in 8 would be of no use to a coach.
    assert swing.exit_speed_sd_mps is not None
    assert swing.exit_speed_sd_mps < truth["exit_speed_mps"] / 8


@pytest.mark.parametrize("venue", VENUES)
def test_no_frame_after_the_ball_was_stopped_is_in_the_flight(venue: str, hits: dict[str, Stopped]) -> None:
    result, truth = hits[venue].result, hits[venue].truth
    (_, track) = result.tracks[0]
    times = track.time_s[track.used]
    assert len(times) >= 5
    assert np.all(times < truth["flight_ends_s"] + 0.5 * FRAME_S)  # the frame in which it is stopped shows both


@pytest.mark.parametrize("venue", VENUES)
def test_the_ball_that_comes_back_and_its_thuds_are_no_second_swing(venue: str, hits: dict[str, Stopped]) -> None:
    (swing,) = hits[venue].result.swings
    assert swing.contact_s == pytest.approx(hits[venue].truth["contact_s"], abs=FRAME_S)
