"""Clips and stills of the sample lesson, held against what truly happened and against the film itself."""

import csv
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from balltrack.camera.model import project
from balltrack.camera.solve import SolvedCamera
from balltrack.errors import RecordError
from balltrack.lesson import Lesson, load_lesson
from balltrack.records.camera_file import read_camera
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.review.batter import batter_framing
from balltrack.review.drawn_path import drawn_path
from balltrack.review.filmed import FilmedSwing, filmed_swings
from balltrack.review.flight_clip import timeline_of, write_flight_clips
from balltrack.review.side_by_side import HALF_PX, first_and_best, time_words, write_side_by_side
from balltrack.review.stills import ROOM, STILL_PX, depth_words, write_contact_stills
from balltrack.review.strip import TIMES_S, ms_words, strip_words, write_strip
from balltrack.units import Floats
from balltrack.video.clip import probe
from balltrack.video.frames import Frame, read_frames
from balltrack.video.sound import read_sound
from tests.records.swings import HIT, MISS
from tests.video.encode import ffmpeg

TRUTH = Path(__file__).parents[2] / "sample_clips" / "truth"
Measured = tuple[Lesson, tuple[Swing, ...], SolvedCamera]


@pytest.fixture(scope="module")
def measured(measured_sample: Path) -> Measured:
    results = measured_sample / "results"
    return load_lesson(measured_sample), read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")


@pytest.fixture(scope="module")
def tee_swing(measured: Measured) -> FilmedSwing:
    (filmed,) = filmed_swings(*measured, [1])
    return filmed


@pytest.fixture(scope="module")
def tee_clip(measured: Measured, tmp_path_factory: pytest.TempPathFactory) -> Path:
    (path,) = write_flight_clips(tmp_path_factory.mktemp("review"), *measured, "us", [1])
    return path


def true_ball_px(clip: str) -> dict[float, tuple[float, float]]:
    """Where the ball truly was, by the frame's time stamp to the millisecond, while it flew in sight."""
    with (TRUTH / "tracks" / f"{clip}.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["phase"] == "flight" and float(row["visible"]) == 1]
    return {round(float(row["time_s"]), 6): (float(row["u_px"]), float(row["v_px"])) for row in rows}


def nearest_frames(path: Path, instants_s: Floats) -> list[Frame]:
    """The film's frames nearest to some instants, found by looking at all of them."""
    best: list[Frame | None] = [None] * len(instants_s)
    for frame in read_frames(path):
        for k, instant_s in enumerate(instants_s.tolist()):
            held = best[k]
            if held is None or abs(frame.time_s - instant_s) < abs(held.time_s - instant_s):
                best[k] = frame
    return [frame for frame in best if frame is not None]


def test_the_drawn_path_ends_on_the_ball_in_every_picture_that_shows_it(tee_swing: FilmedSwing) -> None:
    truth = true_ball_px("01-tee/swing-03")
    path, readout_s, height = drawn_path(tee_swing), tee_swing.camera.readout_s, tee_swing.camera.size_px[1]
    misses = []
    for time_s, centre in truth.items():
        stamp_s = time_s - readout_s * centre[1] / height  # the truth's time is that of the ball's row
        _, pixels, _ = path.flown(stamp_s - tee_swing.contact_s)
        misses.append(np.hypot(*(pixels[-1] - centre)))
    assert len(misses) > 10
    # The track is right to half a pixel; where it is no longer followed the path is calculated on.
    assert np.median(misses) < 1.5
    assert max(misses) < 8  # a third of the ball's width at the plate


def test_the_path_says_where_it_is_only_calculated(tee_swing: FilmedSwing) -> None:
    path = drawn_path(tee_swing)
    assert replace(path, last_seen_s=0.2).goes_on_unseen
    assert not replace(path, last_seen_s=float(path.since_s[-1])).goes_on_unseen


def test_nothing_of_the_path_is_there_before_contact(tee_swing: FilmedSwing) -> None:
    since_s, pixels, _ = drawn_path(tee_swing).flown(-0.02)
    assert len(since_s) == len(pixels) == 0


def test_a_clip_is_720_lines_with_sound_and_as_long_as_its_slow_motion_makes_it(
    tee_swing: FilmedSwing, tee_clip: Path
) -> None:
    info = probe(tee_clip)
    assert (tee_clip.name, info.size_px, info.codec) == ("swing-001.mp4", (1280, 720), "h264")
    # By hand: from the film's first picture to its last, 0.3 s of it four times as long.
    filmed_s = float(tee_swing.times_s[-1] - tee_swing.times_s[0])
    assert info.duration_s == pytest.approx(min(filmed_s, tee_swing.contact_stamp_s + 1.2) + 0.9, abs=2 / 60)
    sound = read_sound(tee_clip)
    assert sound is not None
    assert len(sound.samples) / sound.rate_hz == pytest.approx(info.duration_s, abs=0.05)


def test_the_crack_is_heard_while_contact_is_shown(tee_swing: FilmedSwing, tee_clip: Path) -> None:
    sound = read_sound(tee_clip)
    assert sound is not None
    slow_from_s = tee_swing.contact_stamp_s - 0.15 - float(tee_swing.times_s[0])
    loudest_s = sound.start_s + np.argmax(np.abs(sound.samples)) / sound.rate_hz
    # Sound takes 15 ms over the 5 m to the phone, a row up to 12 ms: four times as much in slow motion.
    assert 0 <= loudest_s - (slow_from_s + 4 * 0.15) < 0.15


def test_pictures_are_the_film_s_own_but_for_corner_and_path(tee_swing: FilmedSwing, tee_clip: Path) -> None:
    shown = list(read_frames(tee_clip))[::20]
    instants_s = timeline_of(tee_swing).instants_s()[::20]
    for picture, source in zip(shown, nearest_frames(tee_swing.info.path, instants_s), strict=True):
        small = cv2.resize(source.luma, (1280, 720), interpolation=cv2.INTER_AREA).astype(int)
        off = np.abs(picture.luma.astype(int) - small)
        # The corner is at most a third by a third; the batter and the plate below it are the film's.
        assert np.mean(off[360:, :400]) < 4  # levels of 219: compression
        assert np.mean(off > 40) < 0.12


def test_a_picture_is_held_in_slow_motion(tee_swing: FilmedSwing, tee_clip: Path) -> None:
    frames = list(read_frames(tee_clip))
    instants_s = timeline_of(tee_swing).instants_s()
    slow = [k for k in range(len(frames) - 1) if abs(instants_s[k] - tee_swing.contact_stamp_s) < 0.1]
    same = [np.mean(np.abs(frames[k].luma[360:].astype(int) - frames[k + 1].luma[360:])) < 0.5 for k in slow]
    assert np.mean(same) == pytest.approx(0.75, abs=0.1)  # each of the film's pictures is shown four times


def test_a_turned_ten_bit_film_gives_the_same_clip(
    measured_sample: Path, measured: Measured, tee_clip: Path, tmp_path: Path
) -> None:
    """The film as another phone stores it: HEVC of 10 bits, lying on its side, with a note to turn it."""
    folder = tmp_path / "lesson"
    shutil.copytree(measured_sample, folder)
    clip = folder / measured[1][0].clip
    side, turned = tmp_path / "side.mp4", tmp_path / "turned.mp4"
    coder = ("-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=none:crf=12", "-tag:v", "hvc1")
    short = ("-t", "0.7", "-vf", "transpose=clock,format=yuv420p10le")  # until after contact: HEVC takes its time
    ffmpeg("-i", clip, *short, *coder, "-an", side)
    ffmpeg("-display_rotation", "90", "-i", side, "-c", "copy", turned)
    turned.replace(clip)
    info = probe(clip)
    assert (info.codec, info.bit_depth, info.size_px, info.stored_size_px) == ("hevc", 10, (1920, 1080), (1080, 1920))
    (path,) = write_flight_clips(tmp_path / "review", load_lesson(folder), *measured[1:], "us", [1])
    here, there = list(read_frames(path)), list(read_frames(tee_clip))
    assert not probe(path).has_sound
    assert len(there) > len(here) > 60  # 0.7 s, some of it four times as long
    for k in (0, 30, 60):
        assert np.mean(np.abs(here[k].luma.astype(int) - there[k].luma)) < 4  # levels: two more compressions


def test_a_swing_without_what_it_was_measured_from_has_a_clip_without_a_path(
    measured_sample: Path, measured: Measured, tmp_path: Path
) -> None:
    folder = tmp_path / "lesson"
    shutil.copytree(measured_sample, folder)
    for basis in folder.glob("results/tracks/*/*.basis.json"):
        basis.unlink()
    (filmed,) = filmed_swings(load_lesson(folder), *measured[1:], [1])
    assert filmed.flight is None
    assert filmed.contact_s == measured[1][0].contact_s
    assert len(drawn_path(filmed).since_s) == 0


def test_a_clip_that_could_not_be_measured_and_a_swing_of_no_contact_time_are_left_out(measured: Measured) -> None:
    lesson, swings, solved = measured
    lost = replace(MISS, swing="01-tee/swing-03#0", clip=swings[0].clip, outcome="not_measured", reason="damaged")
    unseen = replace(MISS, swing="01-tee/swing-03#7", clip=swings[0].clip, contact_s=None)
    assert filmed_swings(lesson, [lost, unseen], solved, [1, 2]) == ()
    with pytest.raises(RecordError, match="there is no swing 3"):
        filmed_swings(lesson, [lost, unseen], solved, [3])


def test_two_swings_are_shown_side_by_side_as_one_picture(measured: Measured, tmp_path: Path) -> None:
    path = write_side_by_side(tmp_path, *measured, "metric", (2, 1))
    info = probe(path)
    assert (path.name, info.size_px, info.has_sound) == ("side-by-side-002-001.mp4", (1280, 720), False)
    middle = next(iter(read_frames(path, 0.3)))
    framing = batter_framing(measured[2].camera, "right", HALF_PX, 1.45)
    for number, columns in ((2, slice(0, 640)), (1, slice(640, 1280))):
        (filmed,) = filmed_swings(*measured, [number])
        left, top, width, height = framing.crop_px
        film = next(iter(read_frames(filmed.info.path, 0.3)))
        part = cv2.resize(film.luma[top : top + height, left : left + width], HALF_PX, interpolation=cv2.INTER_AREA)
        # The ground in front of the batter does not move: same crop, same scale, in both halves.
        off = np.abs(middle.luma[560:650, columns].astype(int) - part[560:650])[:, 20:-200]
        assert np.mean(off) < 8


def test_first_and_best_are_measured_swings_that_count() -> None:
    hard = replace(HIT, exit_speed_mps=44.0)
    assert first_and_best([MISS, HIT, hard]) == (2, 3)
    assert first_and_best([HIT, replace(hard, excluded="not his swing"), MISS]) is None
    assert first_and_best([HIT, replace(hard, quality="poor")]) is None
    assert first_and_best([]) is None


@pytest.mark.parametrize(
    ("since_s", "words", "ms"),
    [
        (-0.2467, "0.25 s before contact", "−247 ms"),
        (0.001, "contact", "+1 ms"),
        (0.1, "0.10 s after contact", "+100 ms"),
    ],
)
def test_times_are_said_from_contact(since_s: float, words: str, ms: str) -> None:
    assert (time_words(since_s), ms_words(since_s)) == (words, ms)


def read_picture(path: Path) -> NDArray[np.uint8]:
    found = cv2.imread(str(path))
    assert found is not None
    return np.asarray(found, np.uint8)


def test_a_strip_shows_both_swings_from_before_to_after_contact(measured: Measured, tmp_path: Path) -> None:
    path = write_strip(tmp_path, *measured, "us", (1, 2))
    assert path.name == "strip-001-002.jpg"
    assert read_picture(path).shape[1] == pytest.approx(1550, abs=10)  # five stills of 300 px
    # Source: how early a swing's parts begin shows from some 300 ms before contact to 100 ms after (what was asked).
    assert TIMES_S[0] <= -0.3 and TIMES_S[-1] == 0.1
    assert "from 350 ms before contact to 100 ms after" in strip_words((1, 2))


def test_the_still_s_line_lies_on_the_plate_s_front_edge(measured: Measured, tmp_path: Path) -> None:
    (path,) = write_contact_stills(tmp_path, *measured, "us", [2])
    (filmed,) = filmed_swings(*measured, [2])
    # 17 in deep: the rule book's plate. The toss was met well ahead of it: nothing else is drawn there.
    edge_m = np.array([[x, 17 * 0.0254, 0.0] for x in (-0.2, 0.0, 0.2)])
    framing = batter_framing(filmed.camera, "right", STILL_PX, ROOM)
    shown = np.rint(framing.shown(project(edge_m, filmed.camera))).astype(int)
    blue, green, red = read_picture(path)[shown[:, 1], shown[:, 0]].T.astype(int)
    assert np.all(red - blue > 90) and np.all(green < red)  # the accent's orange, on white and grey before


def test_a_still_says_how_far_ahead_the_ball_was_met() -> None:
    swing = replace(HIT, contact_depth_m=0.254, contact_sd_m=(0.01, 0.0254, 0.01))
    # Exact: 0.254 m = 10 in; nine in ten lie within 1.645 sd: 1.6 in, 4.2 cm.
    assert depth_words(swing, "us") == "Ball met 10 ±2 in ahead of the plate's front edge"
    assert depth_words(replace(swing, contact_depth_m=-0.254), "metric") == (
        "Ball met 25 ±4 cm behind the plate's front edge"
    )


def test_a_miss_has_no_still_of_contact(measured: Measured, tmp_path: Path) -> None:
    lesson, swings, solved = measured
    missed = replace(MISS, swing=swings[0].swing, clip=swings[0].clip)
    assert write_contact_stills(tmp_path, lesson, [missed], solved, "us", [1]) == ()
