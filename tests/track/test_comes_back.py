"""A ball that comes back from a wall with a thud, where a drawn batter has swung once or twice."""

import numpy as np
import pytest

from balltrack.contact import Cue, find_cues, one_swing_each
from balltrack.onset import Onset
from balltrack.track.comes_back import Sent, came_back
from tests.test_contact import camera_at, crack, stir_of, swing_at

SPEED_MPS = 30.0


@pytest.fixture(scope="module")
def groups() -> tuple[tuple[Cue, ...], ...]:
    """A hit at 1.0 s, a thud of the ball at 2.4 s while nobody swings, and another swing at 4.0 s."""
    camera = camera_at("45 degrees")
    stir = stir_of(swing_at((1.0, 4.0), 5.0, 30.0, camera), camera)
    sounds = [crack(1.0, 35.0), Onset(2.4, 0.0006, 25.0), crack(4.0, 33.0)]
    found = one_swing_each(find_cues(sounds, stir, 0.0, 0.005))
    assert [group[0].time_s for group in found] == pytest.approx([1.0, 2.4, 4.0], abs=0.05)
    return found


def sent_by(group: tuple[Cue, ...]) -> Sent:
    return Sent(group[0].time_s, SPEED_MPS, max(cue.stirred for cue in group))


def test_a_slower_ball_at_a_thud_without_a_swing_has_come_back(groups: tuple[tuple[Cue, ...], ...]) -> None:
    assert came_back(groups[1], 12.0, [sent_by(groups[0])])


def test_a_ball_faster_than_the_one_before_was_hit(groups: tuple[tuple[Cue, ...], ...]) -> None:
    assert not came_back(groups[1], SPEED_MPS + 1, [sent_by(groups[0])])


def test_where_the_batter_swings_again_the_ball_was_hit_again(groups: tuple[tuple[Cue, ...], ...]) -> None:
    assert not came_back(groups[2], 12.0, [sent_by(groups[0])])


def test_without_a_hit_before_nothing_comes_back(groups: tuple[tuple[Cue, ...], ...]) -> None:
    assert not came_back(groups[1], 12.0, [])


def test_a_swing_stirs_far_more_than_what_only_passes(groups: tuple[tuple[Cue, ...], ...]) -> None:
    hit, thud, again = (max(cue.stirred for cue in group) for group in groups)
    assert np.isclose(hit, again, rtol=0.5)
    assert thud < 0.25 * hit
