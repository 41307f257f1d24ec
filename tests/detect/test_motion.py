"""Candidates and the empty field, on pictures painted by another method (tests/track/painted.py)."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from pytest import approx

from balltrack.detect import islands, runs
from balltrack.detect.background import Bytes, median_background
from balltrack.detect.candidates import no_candidates
from balltrack.detect.motion import SizeLimits, boxes_of, find_candidates, match_exposure
from balltrack.detect.regions import Regions, describe, planes_of
from balltrack.detect.runs import blank_mask, mark_thick, runs_of
from balltrack.detect.samples import Samples
from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.frames import Frame
from tests.track.painted import GRASS, OPTIC, Ball, Scene, empty_field, paint

SCENE = Scene(size_px=(240, 160))
EMPTY = empty_field(SCENE, 15)
SHAPES = ((5, 5, (1, 2)), (10, 10, (1, 3)), (60, 40, (4, 2)))  # left, top, (height, width)
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


def test_the_centre_is_not_off_to_one_side() -> None:
    # A mask that was eroded and dilated about different corners put every thick region a pixel off, right and down.
    rng = np.random.default_rng(5)
    off = []
    for k in range(12):
        # Lit from the front: a shaded side would draw the centre towards the light.
        place = (120.0 + rng.uniform(), 80.0 + rng.uniform())
        found = find_candidates(paint(SCENE, (Ball(place, 12.0, sun=(0.0, 0.0, 1.0)),), k), EMPTY, LIMITS)
        off.append(found.centre_px[int(np.argmax(found.width_px))] - place)
    # Colour is stored for two by two pixels, which may draw it by a quarter; the mean of twelve adds 0.1 px of noise.
    assert np.max(np.abs(np.mean(off, axis=0))) < 0.35


def test_of_a_ball_cut_off_by_the_pictures_edge_what_is_seen_is_one_candidate() -> None:
    found = find_candidates(paint(SCENE, (Ball((0.0, 80.0), 16.0),), 2), EMPTY, LIMITS)
    near = np.hypot(found.centre_px[:, 0], found.centre_px[:, 1] - 80.0) < 10.0
    assert np.count_nonzero(near) == 1
    assert found.length_px[near][0] == approx(16.0, abs=3.0)  # up and down it is whole


@pytest.mark.parametrize("size_px", [(241, 160), (240, 161), (241, 161)])
def test_pictures_of_odd_size_have_colour_at_their_edges_too(size_px: tuple[int, int]) -> None:
    width, height = size_px
    half = np.full(((height + 1) // 2, (width + 1) // 2), 128, np.uint8)
    plain = Frame(0, 0.0, np.full((height, width), 90, np.uint8), half, half)
    field = median_background([plain] * 3)
    coloured = half.copy()
    coloured[-4:, -4:] = 60
    found = find_candidates(Frame(0, 0.0, plain.luma, coloured, half), field, LIMITS)
    # Eight pixels wide and high, less what the odd edge cuts off: its middle is known exactly.
    first = 2 * np.array(half.shape[::-1]) - 8
    middle = (first + np.array(size_px) - 1) / 2
    assert found.centre_px == approx(middle[None], abs=1e-9)


def test_regions_of_under_three_pixels_are_left_out_and_others_keep_their_own_values() -> None:
    frame, field = paint(SCENE, (), 1), EMPTY
    luma = field.luma.copy()
    luma[10, 10:13] += np.array([4, 8, 8], np.uint8)
    luma[40:44, 60:62] -= 30
    mask, none = blank_mask(*luma.shape), blank_mask(*luma.shape)
    for left, top, (height, width) in SHAPES:
        mask.bytes[top : top + height, left : left + width] = 255
    regions = Regions(mask.bytes, none.bytes, boxes_of(runs_of(mask)), np.zeros(3, np.bool_))
    found = describe(frame.time_s, planes_of(frame, field, luma), regions, most=3)
    # By hand: a row of weights 0.8, 1.3, 1.3 has its middle at 11 + 0.5 / 3.4; a block of 2 by 4 at its own.
    assert found.centre_px == approx(np.array([[11 + 0.5 / 3.4, 10.0], [60.5, 41.5]]), abs=1e-9)
    # Variance of 2 evenly filled columns is 1/4, of 4 rows 5/4, and 1/12 for the pixel; width is 4 sd.
    assert found.width_px[1] == approx(4 * np.sqrt(1 / 4 + 1 / 12))
    assert found.length_px[1] == approx(4 * np.sqrt(5 / 4 + 1 / 12))
    assert abs(found.axis[1]) == approx([0.0, 1.0], abs=1e-9)
    # The core is what differs most: two of the three; all of the block.
    assert found.colour[0, 0] == approx(frame.luma[10, 11:13].mean())
    assert found.colour[1] == approx(
        [frame.luma[40:44, 60:62].mean(), frame.cb[20:22, 30].mean(), frame.cr[20:22, 30].mean()]
    )
    assert found.contrast[1] == approx((30 / field.luma_limit[40:44, 60:62]).max())


def test_no_region_gives_no_candidate() -> None:
    frame, blank = paint(SCENE, (), 1), blank_mask(*SCENE.size_px[::-1])
    regions = Regions(blank.bytes, blank.bytes, boxes_of(runs_of(blank)), np.zeros(0, np.bool_))
    found = describe(frame.time_s, planes_of(frame, EMPTY, frame.luma), regions, most=3)
    assert (len(found), found.time_s) == (0, frame.time_s)


@pytest.mark.parametrize("size_px", [(64, 40), (61, 40), (7, 5), (3, 3), (1, 1)])
@pytest.mark.parametrize("share", [0.01, 0.2, 0.5, 0.8])
def test_what_hangs_together_and_its_order_are_what_another_method_says(size_px: tuple[int, int], share: float) -> None:
    # Source: OpenCV's outlines, corners included, of islands and of the gaps in them, each from its own first pixel.
    rng = np.random.default_rng(3)
    for _ in range(40):
        mask = blank_mask(*size_px[::-1])
        full = mask.bytes[:, : size_px[0]]
        full[:] = 255 * (rng.random(full.shape) < share)
        found, _ = cv2.findContours(np.ascontiguousarray(full), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        outlines = [line for line in found if len(line) > 1]
        outlines.sort(key=lambda line: (line[0, 0, 1], line[0, 0, 0]))
        assert boxes_of(runs_of(mask)).tolist() == [list(cv2.boundingRect(line)) for line in outlines]


@pytest.mark.parametrize("size_px", [(64, 40), (61, 40), (7, 5), (3, 3)])
@pytest.mark.parametrize("share", [0.2, 0.9])
def test_what_is_thick_is_what_another_method_says(size_px: tuple[int, int], share: float) -> None:
    # Source: OpenCV, eroded towards one corner and dilated back from it; nothing is meant beyond the rim.
    rng, block = np.random.default_rng(4), np.ones((4, 4), np.uint8)
    for _ in range(40):
        mask, thick = blank_mask(*size_px[::-1]), blank_mask(*size_px[::-1])
        full = mask.bytes[:, : size_px[0]]
        full[:] = 255 * (rng.random(full.shape) < share)
        mark_thick(runs_of(mask), thick)
        core = cv2.erode(np.pad(np.asarray(full), 4), block, anchor=(0, 0))
        opened = cv2.dilate(core, block, anchor=(3, 3))[4:-4, 4:-4]
        assert np.array_equal(thick.bytes[:, : size_px[0]], opened)


def test_a_ball_of_which_only_the_rim_shows_is_found_where_a_strand_touches_it() -> None:
    frame = paint(SCENE, (), 1)
    luma = EMPTY.luma.copy()
    luma[66:68, 20:200] += 40  # longer than any ball
    luma[60:74, 100:114] += 40
    luma[62:72, 102:112] = EMPTY.luma[62:72, 102:112]
    found = find_candidates(replace(frame, luma=luma), EMPTY, SizeLimits(30.0, 50.0))
    assert found.centre_px == approx(np.array([[106.5, 66.5]]), abs=0.5)


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


def test_of_large_pictures_those_of_the_wanted_stretch_are_kept_and_the_others_thinned_out() -> None:
    # 4K: sixteen pictures fit into memory, and an empty field takes nine.
    frame = paint(Scene(size_px=(16, 16)))
    plane, half = np.zeros((2160, 3840), np.uint8), np.zeros((1080, 1920), np.uint8)
    samples = Samples([(5.0, 6.85)])
    for k in range(600):
        samples.add(type(frame)(k, k / 60, plane, half, half))
    assert 9 <= len(samples.between(5.0, 6.85)) < len(samples.between(0.0, 10.0)) <= 16
    assert samples.between(0.0, 4.0)
    spread = [each.time_s for each in samples.spread(5)]
    assert len(spread) == 5
    assert max(np.diff(spread)) < 5.0  # over the whole clip, though most are of the wanted stretch


def test_what_counts_as_thick_is_the_same_where_it_is_marked_and_where_it_is_described() -> None:
    assert runs.THICK_PX == islands.THICK_PX  # each has its own, for a kernel uses only what stands in its file
