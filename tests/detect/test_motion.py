"""Candidates and the empty field, on pictures painted by another method (tests/track/painted.py)."""

import numpy as np
import pytest
from pytest import approx

from balltrack.detect.background import Bytes, median_background
from balltrack.detect.candidates import no_candidates
from balltrack.detect.motion import SizeLimits, find_candidates, match_exposure
from balltrack.detect.samples import Samples
from balltrack.errors import VideoError
from balltrack.units import Floats
from tests.track.painted import GRASS, OPTIC, Ball, Scene, empty_field, paint

SCENE = Scene(size_px=(240, 160))
EMPTY = empty_field(SCENE, 15)
LIMITS = SizeLimits(widest_px=40.0, longest_px=80.0)


@pytest.mark.parametrize("diameter_px", [5.0, 10.0, 20.0])
@pytest.mark.parametrize("streak", [0.0, 1.5])
def test_a_moving_ball_is_one_candidate_of_its_place_size_and_direction(diameter_px: float, streak: float) -> None:
    run = streak * diameter_px
    ball = Ball((120.3, 79.6), diameter_px, (run * np.cos(0.5), run * np.sin(0.5)))
    found = find_candidates(paint(SCENE, (ball,), 1), EMPTY, LIMITS)
    off = np.linalg.norm(found.centre_px - ball.centre_px, axis=1)
    near = int(np.argmin(off))
    assert off[near] < 0.1 * diameter_px + 1.0  # what links a ball; its place is refined later
    assert found.width_px[near] == approx(diameter_px, rel=0.2, abs=1.5)
    # A run adds its length to the long axis; second moments see an evenly filled streak within 15 %.
    assert found.length_px[near] == approx(diameter_px + run, rel=0.25, abs=1.5)
    if streak:
        assert abs(found.axis[near] @ (np.cos(0.5), np.sin(0.5))) > np.cos(np.radians(8))
    assert len(found) <= 3  # noise adds next to none
    assert found.contrast[near] == found.contrast.max()


def test_a_still_scene_has_hardly_a_candidate() -> None:
    counts = [len(find_candidates(paint(SCENE, (), seed), EMPTY, LIMITS)) for seed in range(10)]
    assert np.mean(counts) < 0.5


def test_a_ball_that_rests_is_part_of_the_field_and_no_candidate() -> None:
    resting = Ball((60.0, 60.0), 12.0)
    field = median_background([paint(SCENE, (resting,), 1000 + k) for k in range(15)])
    flying = Ball((160.0, 90.0), 12.0)
    found = find_candidates(paint(SCENE, (resting, flying), 1), field, LIMITS)
    off = np.linalg.norm(found.centre_px - resting.centre_px, axis=1)
    assert len(found) >= 1
    assert off.min() > 50.0


@pytest.mark.parametrize("gain", [1.1, 0.9])
def test_a_step_of_the_phones_exposure_makes_no_candidates(gain: float) -> None:
    found = find_candidates(paint(SCENE, (), 3, gain=gain), EMPTY, LIMITS)
    assert len(found) <= 2


@pytest.mark.parametrize("gain", [1.1, 0.9])
def test_a_ball_is_still_found_after_such_a_step(gain: float) -> None:
    found = find_candidates(paint(SCENE, (Ball((120.0, 80.0), 12.0),), 3, gain=gain), EMPTY, LIMITS)
    assert np.linalg.norm(found.centre_px - (120.0, 80.0), axis=1).min() < 2.0


def test_matching_the_exposure_undoes_a_gain_and_leaves_equal_pictures_alone() -> None:
    plane = np.linspace(40, 180, 160 * 240).reshape(160, 240).astype(np.uint8)
    assert match_exposure(plane, plane) is plane
    brighter = np.clip(plane * 1.1, 0, 255).astype(np.uint8)
    assert np.max(np.abs(match_exposure(brighter, plane).astype(int) - plane)) <= 2  # rounding, twice


def test_a_ball_as_bright_as_the_grass_is_found_by_its_colour() -> None:
    # A yellow of the luma that grass has: by BT.709 the lit ball's green and red are dimmed to that of the field.
    dim = 0.2126 * GRASS[0] + 0.7152 * GRASS[1] + 0.0722 * GRASS[2]
    share = dim / (0.2126 * OPTIC[0] + 0.7152 * OPTIC[1] + 0.0722 * OPTIC[2])
    scene = Scene(size_px=(240, 160), texture=0.1)
    ball = Ball((121.0, 81.0), 16.0, colour=(0.62 * share, 0.80 * share, 0.06 * share), sun=(0.0, -0.1, 1.0))
    frame, field = paint(scene, (ball,), 4), empty_field(scene)
    middle = np.s_[77:86, 117:126]
    assert abs(float(frame.luma[middle].mean()) - float(field.luma[middle].mean())) < 12  # hardly brighter or darker
    found = find_candidates(frame, field, LIMITS)
    assert np.linalg.norm(found.centre_px - ball.centre_px, axis=1).min() < 2.0


def test_what_is_larger_than_a_ball_can_be_is_left_out() -> None:
    frame = paint(SCENE, (Ball((120.0, 80.0), 60.0),), 1)
    assert len(find_candidates(frame, EMPTY, LIMITS)) <= 2
    found = find_candidates(frame, EMPTY, SizeLimits(90.0, 90.0))
    assert np.linalg.norm(found.centre_px - (120.0, 80.0), axis=1).min() < 6.0  # a tenth of its size: shade


def test_two_balls_are_two_candidates_with_their_colours() -> None:
    yellow, grey = Ball((60.0, 80.0), 14.0), Ball((180.0, 80.0), 14.0, colour=(0.6, 0.6, 0.6))
    found = find_candidates(paint(SCENE, (yellow, grey), 1), EMPTY, LIMITS)
    rows = [int(np.argmin(np.linalg.norm(found.centre_px - ball.centre_px, axis=1))) for ball in (yellow, grey)]
    assert rows[0] != rows[1]
    assert found.colour[rows[0], 1] < found.colour[rows[1], 1] - 20  # yellow has little blue: a low cb


def test_the_empty_field_is_what_shows_most_of_the_time() -> None:
    frames = [paint(SCENE, (Ball((30.0 + 20 * k, 80.0), 20.0),), k) for k in range(9)]
    field = median_background(frames)
    truth = np.mean([paint(SCENE, (), 50 + k).luma for k in range(20)], axis=0)
    assert np.max(np.abs(field.luma - truth)) < 6  # four sd of one frame's noise; the balls are 100 brighter


def test_noisier_pixels_need_a_larger_change() -> None:
    rng = np.random.default_rng(1)
    noisy = []
    for k in range(15):
        frame = paint(SCENE, (), k)
        luma = frame.luma.astype(float)
        luma[:, 120:] += rng.normal(0, 8, luma[:, 120:].shape)
        noisy.append(type(frame)(0, 0.0, np.clip(luma, 0, 255).astype(np.uint8), frame.cb, frame.cr))
    field = median_background(noisy)
    assert field.luma_limit[:, 140:].mean() > 2.5 * field.luma_limit[:, :100].mean()
    assert field.luma_noise[:, 140:].mean() == approx(8.1, rel=0.25)


def test_the_limits_follow_from_each_pixels_flicker_by_the_formula() -> None:
    # Source: the formula, by numpy. 1.4826 median absolute deviations are a normal variable's sd; mean of 81 pixels.
    frames = [paint(SCENE, (), k) for k in range(9)]
    field = median_background(frames)

    def sd(planes: list[Bytes]) -> Floats:
        apart = np.abs(np.array(planes, float) - np.median(planes, axis=0))
        padded = np.pad(np.median(apart, axis=0), 4, mode="reflect")
        return np.asarray(1.4826 * np.lib.stride_tricks.sliding_window_view(padded, (9, 9)).mean(axis=(2, 3)))

    luma, cb, cr = (sd([getattr(frame, name) for frame in frames]) for name in ("luma", "cb", "cr"))
    one_step = 0.501  # rounded to whole steps
    assert np.max(np.abs(field.luma_limit - np.maximum(4.5 * luma + 2, 7))) < one_step
    assert np.max(np.abs(field.chroma_limit - np.maximum(4.5 * np.hypot(cb, cr) + 3, 9))) < one_step
    assert np.array_equal(field.luma_noise, np.maximum(np.ceil(luma), 1))


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_frames_for_the_empty_field_are_refused_in_one_line(count: int) -> None:
    with pytest.raises(VideoError, match=rf"^only {count} frames .*film longer$"):
        median_background([paint(SCENE, (), k) for k in range(count)])


def test_a_frame_without_candidates_keeps_its_time_and_its_shapes() -> None:
    none = no_candidates(1.25)
    assert (len(none), none.time_s) == (0, 1.25)
    assert none.centre_px.shape == none.axis.shape == (0, 2)
    assert none.colour.shape == (0, 3)


def test_samples_are_spread_over_a_clip_whatever_its_frame_rate() -> None:
    small = paint(Scene(size_px=(16, 16)))
    for fps in (30, 240):
        samples = Samples()
        for k in range(2 * fps):
            samples.add(type(small)(k, k / fps, small.luma, small.cb, small.cr))
        times = np.array([frame.time_s for frame in samples.between(0.0, 2.0)])
        assert 15 <= len(times) <= 40
        assert np.ptp(np.diff(times)) < 1.5 / fps  # even, to a frame
        assert all(0.5 <= frame.time_s <= 1.0 for frame in samples.between(0.5, 1.0))


def test_samples_of_a_long_clip_stay_within_memory_and_still_cover_it() -> None:
    # 3 MB a picture at 1080p: an hour's frames must not be kept. The same bytes stand for all pictures here.
    frame = paint(Scene(size_px=(16, 16)))
    plane, half = np.zeros((1080, 1920), np.uint8), np.zeros((540, 960), np.uint8)
    samples = Samples()
    for k in range(3000):
        samples.add(type(frame)(k, k / 10, plane, half, half))
    kept = samples.between(0.0, 300.0)
    assert sum(each.luma.size + each.cb.size + each.cr.size for each in kept) < 500e6
    assert kept[0].time_s < 30.0
    assert kept[-1].time_s > 270.0
    assert len(kept) > 20
