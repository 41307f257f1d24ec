"""When bat met ball: a made-up swing as the phone would see it, and cracks as it would hear them."""

import cv2
import numpy as np
import pytest
from pytest import approx

from balltrack.air import speed_of_sound_mps
from balltrack.camera.model import Camera, project
from balltrack.contact import (
    Cue,
    Stir,
    StirMeter,
    deaf_outside,
    find_cues,
    heard_sd_s,
    one_swing_each,
    sound_delay_s,
    zone_box_px,
)
from balltrack.onset import Onset
from balltrack.units import Floats
from balltrack.video.frames import Frame
from tests.flight.simulated import SET_UPS, see, true_camera

SIZE_PX = (480, 270)
SWING_S = 0.4


def camera_at(name: str) -> Camera:
    """A simulated set-up through a phone of a quarter of the usual resolution."""
    parameters = true_camera(SET_UPS[name])
    parameters[6], parameters[8], parameters[9] = 1598.0 / 4, 239.5, 134.5
    return Camera(parameters, np.eye(11) * 1e-8, SIZE_PX)


def swing_at(times_s: tuple[float, ...], length_s: float, fps: float, camera: Camera) -> list[Frame]:
    """Frames in which a bat (a bar of 0.9 m) turns about the batter around each time, and leaves rustle all along."""
    rng = np.random.default_rng(5)
    ground = cv2.GaussianBlur(rng.uniform(60, 140, SIZE_PX[::-1]), (0, 0), 1.0)
    half = np.full((SIZE_PX[1] // 2, SIZE_PX[0] // 2), 128, np.uint8)
    frames = []
    for k in range(round(length_s * fps)):
        now = k / fps
        picture: Floats = np.asarray(ground + rng.normal(0, 1.5, ground.shape), dtype=np.float64)
        phase = sum(float(np.clip((now - time) / SWING_S + 0.5, 0, 1)) for time in times_s)
        _draw_batter(picture, 2.0 * np.pi * phase * 0.75, camera)
        frames.append(Frame(k, now, np.clip(picture, 0, 255).astype(np.uint8), half, half))
    return frames


def _draw_batter(picture: Floats, turn_rad: float, camera: Camera) -> None:
    hands = np.array([-0.7, 0.4, 1.0])
    reach = np.array([np.cos(turn_rad), np.sin(turn_rad), 0.1])
    ends = project(np.array([hands, hands + 0.9 * reach, [-0.8, 0.4, 0.1], [-0.8, 0.4, 1.5]]), camera)
    for a, b, width, shade in ((0, 1, 6, 230.0), (2, 3, 14, 40.0)):
        first, second = (tuple(int(x) for x in np.clip(ends[k], -2000, 2000)) for k in (a, b))
        cv2.line(picture, first, second, shade, width)


def stir_of(frames: list[Frame], camera: Camera) -> Stir:
    meter = StirMeter(camera)
    for frame in frames:
        meter.add(frame)
    return meter.stir()


def crack(time_s: float, strength_db: float = 30.0) -> Onset:
    return Onset(time_s, 0.0006, strength_db)


@pytest.mark.parametrize("name", list(SET_UPS))
@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
def test_a_swing_that_is_only_seen_gives_a_cue_near_its_middle(name: str, fps: float) -> None:
    camera = camera_at(name)
    stir = stir_of(swing_at((1.5,), 3.0, fps, camera), camera)
    (cue,) = find_cues(None, stir, 0.0, 0.005)
    assert cue.time_s == approx(1.5, abs=SWING_S / 2)
    assert cue.swung > 0
    assert (cue.heard, cue.silent) == (False, True)
    assert cue.brief


def walk_at(camera: Camera, fps: float = 30.0, length_s: float = 12.0) -> list[Frame]:
    """Frames in which somebody 1.7 m tall and 0.5 m broad walks through the box at 1.2 m/s (common practice)."""
    rng = np.random.default_rng(5)
    ground = rng.uniform(60, 140, SIZE_PX[::-1])
    half = np.full((SIZE_PX[1] // 2, SIZE_PX[0] // 2), 128, np.uint8)
    frames = []
    for k in range(round(length_s * fps)):
        now = k / fps
        x = 1.2 * (now - length_s / 2)
        ends = project(np.array([[x, 0.4, 0.0], [x, 0.4, 1.7], [x - 0.25, 0.4, 1.0], [x + 0.25, 0.4, 1.0]]), camera)
        picture: Floats = np.asarray(ground + rng.normal(0, 1.5, ground.shape), dtype=np.float64)
        if np.isfinite(ends).all() and np.abs(ends).max() < 4000:
            foot, head = ([int(v) for v in ends[row]] for row in (0, 1))
            broad = max(int(np.linalg.norm(ends[3] - ends[2])), 6)
            cv2.line(picture, foot, head, 40.0, broad)
        frames.append(Frame(k, now, np.clip(picture, 0, 255).astype(np.uint8), half, half))
    return frames


@pytest.mark.parametrize("name", list(SET_UPS))
def test_who_walks_past_the_plate_stirs_it_for_longer_than_a_swing(name: str) -> None:
    camera = camera_at(name)
    cues = find_cues(None, stir_of(walk_at(camera), camera), 0.0, 0.005)
    assert any(cue.swung for cue in cues)
    assert not any(cue.swung and cue.brief for cue in cues)


def test_two_swings_three_seconds_apart_are_two() -> None:
    camera = camera_at("behind")
    stir = stir_of(swing_at((1.2, 4.2), 5.5, 60.0, camera), camera)
    groups = one_swing_each(find_cues(None, stir, 0.0, 0.005))
    assert [group[0].time_s for group in groups] == approx([1.2, 4.2], abs=SWING_S / 2)


def test_a_crack_within_a_swing_is_one_swing_dated_by_the_crack() -> None:
    camera = camera_at("behind")
    stir = stir_of(swing_at((1.5,), 3.0, 60.0, camera), camera)
    groups = one_swing_each(find_cues([crack(1.52)], stir, 0.015, 0.005))
    assert len(groups) == 1
    first = groups[0][0]
    assert first.heard
    assert first.swung > 0
    assert first.time_s == approx(1.505)  # heard less the sound's way
    assert 0.005 <= first.sd_s < 0.006


def test_a_miss_has_a_swing_but_no_heard_cue() -> None:
    camera = camera_at("behind")
    stir = stir_of(swing_at((1.5,), 3.0, 60.0, camera), camera)
    cues = find_cues([], stir, 0.015, 0.005)
    assert [cue.heard for cue in cues] == [False]
    assert not cues[0].silent  # the clip has sound: that nothing was heard tells


def test_of_several_sounds_in_one_swing_the_loudest_during_it_comes_first() -> None:
    camera = camera_at("behind")
    stir = stir_of(swing_at((1.5,), 3.0, 60.0, camera), camera)
    sounds = [crack(1.40, 15.0), crack(1.51, 35.0), crack(1.62, 20.0), crack(2.15, 50.0)]
    groups = one_swing_each(find_cues(sounds, stir, 0.0, 0.005))
    assert groups[0][0].time_s == approx(1.51)  # not the louder thud half a second after the swing


def test_every_cue_belongs_to_just_one_swing_and_swings_are_in_order_of_time() -> None:
    cues = [Cue(t, 0.01, True, 20.0, 0.0) for t in (0.5, 0.8, 1.3, 2.6, 2.7, 5.0)]
    groups = one_swing_each(cues)
    assert sorted(cue.time_s for group in groups for cue in group) == [cue.time_s for cue in cues]
    starts = [min(cue.time_s for cue in group) for group in groups]
    assert starts == sorted(starts)
    assert len(groups) == 3


def test_cues_come_in_order_of_time() -> None:
    camera = camera_at("behind")
    stir = stir_of(swing_at((1.2,), 3.0, 60.0, camera), camera)
    times = [cue.time_s for cue in find_cues([crack(2.6), crack(0.2)], stir, 0.0, 0.005)]
    assert len(times) == 3
    assert times == sorted(times)


def test_where_nothing_stands_out_the_strongest_stir_is_tried_with_more_doubt() -> None:
    camera = camera_at("behind")
    quiet = stir_of(swing_at((), 1.0, 60.0, camera), camera)
    (cue,) = find_cues([], quiet, 0.0, 0.005)
    assert cue.swung == 0.0
    assert not cue.heard
    seen = stir_of(swing_at((1.5,), 3.0, 60.0, camera), camera)
    assert cue.sd_s > find_cues([], seen, 0.0, 0.005)[0].sd_s


def test_a_clip_of_no_frames_or_one_has_no_cue() -> None:
    camera = camera_at("behind")
    for count in (0, 1):
        stir = stir_of(swing_at((), 1.0, 60.0, camera)[:count], camera)
        assert find_cues(None, stir, 0.0, 0.005) == ()


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
def test_stir_hardly_depends_on_the_frame_rate(fps: float) -> None:
    camera = camera_at("side-on")
    usual = stir_of(swing_at((0.5,), 1.0, 60.0, camera), camera)
    other = stir_of(swing_at((0.5,), 1.0, fps, camera), camera)
    assert other.share.max() == approx(usual.share.max(), rel=0.35)
    assert np.all((other.share >= 0) & (other.share <= 1))
    assert np.all(np.diff(other.time_s) > 0)


@pytest.mark.parametrize("times", [2, 4, 7])
def test_stir_does_not_depend_on_the_resolution(times: int) -> None:
    camera = camera_at("side-on")
    frames = swing_at((0.5,), 1.0, 30.0, camera)
    parameters = camera.parameters.copy()
    parameters[6] *= times
    parameters[8:10] = (parameters[8:10] + 0.5) * times - 0.5
    larger = Camera(parameters, camera.covariance, (times * SIZE_PX[0], times * SIZE_PX[1]))
    enlarged = [
        Frame(frame.index, frame.time_s, frame.luma.repeat(times, 0).repeat(times, 1), frame.cb, frame.cr)
        for frame in frames
    ]
    # The same picture in more pixels; the zone's edges fall up to a pixel beside, a few in a thousand of its share.
    assert stir_of(enlarged, larger).share == approx(stir_of(frames, camera).share, abs=0.004)


@pytest.mark.parametrize("name", list(SET_UPS))
def test_the_zone_around_the_plate_holds_plate_and_contact_and_stays_in_the_picture(name: str) -> None:
    parameters = true_camera(SET_UPS[name])
    left, top, right, bottom = zone_box_px(Camera(parameters, np.eye(11), (1920, 1080)))
    assert 0 <= left < right <= 1920
    assert 0 <= top < bottom <= 1080
    # OpenCV projects the usual contact heights over the plate's middle.
    for point in ([0.0, 0.3, 0.6], [0.0, 0.6, 1.0]):
        u, v = see(np.array([point]), parameters)[0]
        if np.isfinite([u, v]).all():
            assert left <= u <= right
            assert top <= v <= bottom


def test_a_camera_that_looks_away_still_gives_a_zone_inside_the_picture() -> None:
    parameters = true_camera(SET_UPS["behind"])
    about = cv2.Rodrigues(np.array([0.0, np.pi, 0.0]))[0]
    parameters[:3] = cv2.Rodrigues(about @ cv2.Rodrigues(parameters[:3])[0])[0].ravel()
    left, top, right, bottom = zone_box_px(Camera(parameters, np.eye(11), (1920, 1080)))
    assert 0 <= left < right <= 1920
    assert 0 <= top < bottom <= 1080


def test_the_sound_is_late_by_the_way_to_the_phone() -> None:
    # Source: c = 331.3 sqrt(1 + T / 273.15) = 343.215 m/s at 20 C; from the usual contact point (0, 0.55, 0.9) m,
    # common practice, no source, to a phone at (0.3, -5, 1.7) m: sqrt(0.09 + 30.8 + 0.64) = 5.615 m, by hand.
    camera = Camera(true_camera(SET_UPS["behind"]), np.eye(11), (1920, 1080))
    assert sound_delay_s(camera, 343.215) == approx(5.615 / 343.215, abs=0.001)  # 0.3 m of another contact point
    assert sound_delay_s(camera, speed_of_sound_mps(20.0)) == approx(5.615 / 343.215, abs=0.001)


def test_sound_dates_a_stretched_file_less_surely() -> None:
    assert heard_sd_s(1.0) < 0.01
    assert heard_sd_s(0.125) > 3 * heard_sd_s(1.0)


def test_where_no_sound_was_recorded_no_crack_is_no_miss() -> None:
    # By hand: the sound began at 0.6 s, as when a phone opens its microphone late, and ended at 2.0 s.
    heard, early, within = Cue(0.5, 0.01, True, 30.0, 3.0), Cue(0.4, 0.08, False, 0, 3.0), Cue(1.5, 0.08, False, 0, 3.0)
    judged = deaf_outside((heard, early, within), 0.6, 2.0)
    assert [cue.silent for cue in judged] == [False, True, False]
    assert [cue.time_s for cue in judged] == [0.5, 0.4, 1.5]


def test_a_phone_that_is_moved_stirs_the_whole_picture_and_is_no_swing() -> None:
    width, height = SIZE_PX
    wide = np.random.default_rng(1).integers(40, 200, (height, width + 60), np.uint8)
    grey = np.full((height // 2, width // 2), 128, np.uint8)
    frames = []
    for k in range(90):
        shift = 40 if 45 <= k < 50 else 0  # for a twelfth of a second it looks elsewhere
        frames.append(Frame(k, k / 60, np.ascontiguousarray(wide[:, shift : shift + width]), grey, grey))
    cues = find_cues((), stir_of(frames, camera_at("behind")), 0.01, 0.005)
    assert any(cue.swung for cue in cues)
    assert not any(cue.brief for cue in cues if cue.swung)
