"""The ball on its tee before contact, on painted pictures."""

import numpy as np
import pytest
from pytest import approx

from balltrack.track.centre import BallImage
from balltrack.track.rest import resting_ball
from balltrack.units import Floats
from balltrack.video.frames import Frame
from tests.track.painted import Ball, Scene, cover_right_of, empty_field, paint

SCENE = Scene()
EMPTY = empty_field(SCENE)
CONTACT_S = 1.0
TEE_BALL = Ball((81.4, 78.3), 18.0, sun=(-0.2, -0.5, 0.8))


def frames_with(ball: Ball | None, fps: float = 30.0) -> list[Frame]:
    """The second before contact, and a little after it without the ball."""
    times = np.arange(0.3, 1.2, 1 / fps)
    return [
        paint(SCENE, (ball,) if ball and time < CONTACT_S else (), k, time_s=float(time))
        for k, time in enumerate(times)
    ]


def sought(frames: list[Frame], place_px: Floats, width_px: float = 18.0) -> BallImage | None:
    return resting_ball(frames, EMPTY, CONTACT_S, place_px, width_px)


@pytest.mark.parametrize("off_px", [(0.0, 0.0), (6.0, -5.0), (-9.0, 4.0)])
def test_a_ball_on_a_tee_is_found_where_it_rests_though_the_flight_is_off_by_half_its_size(
    off_px: tuple[float, float],
) -> None:
    image = sought(frames_with(TEE_BALL), np.array(TEE_BALL.centre_px) + off_px)
    assert image is not None
    assert image.centre_px == approx(np.array(TEE_BALL.centre_px), abs=0.5)
    assert image.diameter_px == approx(18.0, rel=0.05)


def test_a_ball_half_brighter_and_half_darker_than_the_field_is_found_whole() -> None:
    scene = Scene(ground=(0.42, 0.28, 0.19), texture=0.06)  # bare infield under a low sun
    ball = Ball((81.4, 78.3), 24.6, sun=(0.7, -0.5, 0.3), ambient=0.2)
    frames = [paint(scene, (ball,), k, time_s=0.4 + k / 30) for k in range(18)]
    image = resting_ball(frames, empty_field(scene), CONTACT_S, np.array(ball.centre_px), 22.8)
    assert image is not None
    assert image.centre_px == approx(np.array(ball.centre_px), abs=0.5)
    assert image.diameter_px == approx(24.6, rel=0.05)


def test_a_pitch_leaves_nothing_at_rest() -> None:
    assert sought(frames_with(None), np.array([81.0, 78.0])) is None


def test_a_thing_of_another_size_at_rest_is_not_the_ball() -> None:
    for diameter in (7.0, 40.0):
        assert sought(frames_with(Ball((81.4, 78.3), diameter)), np.array([81.0, 78.0])) is None


def test_a_ball_that_rests_elsewhere_is_not_this_one() -> None:
    assert sought(frames_with(Ball((140.0, 30.0), 18.0)), np.array([81.0, 78.0])) is None


def test_a_bat_that_hides_the_ball_in_a_few_frames_does_no_harm() -> None:
    frames = [
        cover_right_of(frame, 60, SCENE, k) if k % 4 == 0 else frame for k, frame in enumerate(frames_with(TEE_BALL))
    ]
    image = sought(frames, np.array(TEE_BALL.centre_px))
    assert image is not None
    assert image.centre_px == approx(np.array(TEE_BALL.centre_px), abs=0.5)


def test_a_clip_that_begins_at_contact_has_no_ball_at_rest() -> None:
    late = [frame for frame in frames_with(TEE_BALL) if frame.time_s > 0.9]
    assert sought(late, np.array(TEE_BALL.centre_px)) is None
    assert sought([], np.array(TEE_BALL.centre_px)) is None


def test_a_contact_out_of_sight_has_no_ball_at_rest() -> None:
    assert sought(frames_with(TEE_BALL), np.array([np.nan, np.nan])) is None
