"""What `balltrack check` says of files as coaches bring them: real encoded ones, each with one fault."""

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.typing import NDArray

from balltrack.cli import main
from tests.video.encode import RATE_HZ, encode_luma, ffmpeg, write_wave
from tests.video.tags import APPLE, tagged

FPS, FRAMES = 60, 36
SIZE, SMALL = (1280, 720), (640, 360)


def field(count: int = FRAMES, size: tuple[int, int] = SIZE, shift_px: float = 0.0) -> NDArray[np.uint8]:
    """(count, h, w) a still texture seen by a noisy sensor; the whole moves by ``shift_px`` from picture to picture."""
    rng = np.random.default_rng(11)
    coarse = rng.uniform(60, 180, (size[1] // 16 + 2, size[0] // 16 + 40))
    texture = np.asarray(np.kron(coarse, np.ones((16, 16))), np.uint8)
    noise = rng.integers(0, 10, (4, size[1], size[0]), np.uint8)
    pictures = np.empty((count, size[1], size[0]), np.uint8)
    for k in range(count):
        left = round(k * shift_px)
        pictures[k] = texture[: size[1], left : left + size[0]] + noise[k % 4]
    return pictures


def film(path: Path, pictures: NDArray[np.uint8], *args: str | Path, fps: int = FPS) -> Path:
    """A clip with a room's quiet sound."""
    length_s = len(pictures) / fps
    sound = np.random.default_rng(12).normal(0, 0.003, round(RATE_HZ * length_s))
    sound[len(sound) // 2] = 0.7
    wave = write_wave(path.with_suffix(".wav"), sound)
    coder = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "16", "-c:a", "aac")
    encode_luma(path, pictures, "-i", wave, *coder, *args, fps=fps)
    path.with_suffix(".wav").unlink()
    return path


def check(*given: Path, units: str = "us") -> Result:
    result = CliRunner().invoke(main, ["check", *map(str, given), "--units", units])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return film(tmp_path_factory.mktemp("good") / "001.mp4", field(), *tagged(APPLE))


def test_a_good_clip_is_fit_and_says_what_to_expect(good: Path) -> None:
    done = check(good)
    assert done.exit_code == 0
    said = done.output
    assert "1280 x 720, 60 frames a second, H.264 in MP4 or QuickTime, sound, filmed by Example Phone 1" in said
    assert "  Fit to measure.\n" in said
    assert "exit speed ±" in said
    assert " mph" in said
    assert "Know" not in said
    assert "1 of 1 clip is fit to measure." in said
    assert " km/h" in check(good, units="metric").output


def test_fewer_lines_and_frames_are_expected_to_measure_worse(good: Path, tmp_path: Path) -> None:
    small = tmp_path / "small.mp4"
    coder = ("-c:v", "libx264", "-preset", "ultrafast", "-qp", "10", "-c:a", "copy")
    ffmpeg("-i", good, "-vf", "scale=640:360", "-r", "30", *coder, small)
    said = check(small).output
    assert "with less accuracy" in said
    for word in ("only 360 lines", "only 30 frames", "film 60 frames a second or more", "1080 lines"):
        assert word in said

    def expected_mph(text: str) -> float:
        return float(text.split("exit speed ±")[1].split()[0])

    # The ball is half as large and seen half as often: how much worse is the planner's to say, that it is worse ours.
    assert expected_mph(said) > 1.3 * expected_mph(check(good).output)


def test_a_clip_from_a_messenger_is_warned_of(good: Path, tmp_path: Path) -> None:
    pressed = tmp_path / "pressed.mp4"
    # 300 kbit/s of 720p60: a tenth of what a phone writes at least.
    ffmpeg("-i", good, "-c:v", "libx264", "-b:v", "300k", "-maxrate", "300k", "-bufsize", "300k", "-an", pressed)
    said = check(pressed).output
    assert "strongly compressed" in said
    assert "messengers" in said
    assert "with less accuracy" in said


def test_a_moving_phone_is_not_fit_but_who_moves_before_a_still_one_is(tmp_path: Path) -> None:
    hand = film(tmp_path / "hand.mp4", field(size=SMALL, shift_px=1.0))
    said = check(hand)
    assert said.exit_code == 1
    # By hand: 1 px from picture to picture, 35 times, is 35 px of 640, 5.5 %; pictures are compared to 1 px of 480.
    assert "the whole picture moves, by 5." in said.output
    assert "tripod" in said.output
    people = field(size=SMALL)
    for k in range(FRAMES):
        people[k, 100:350, 50 + 8 * k : 200 + 8 * k] = 40  # a good part of the picture is passed by someone dark
    assert "moves" not in check(film(tmp_path / "people.mp4", people)).output


def test_dark_silent_and_soundless_clips_say_so(good: Path, tmp_path: Path) -> None:
    dark = 16 + (field(size=SMALL) - 16) // 12
    assert "dark" in check(film(tmp_path / "dark.mp4", dark)).output
    silent, mute, late = tmp_path / "silent.mp4", tmp_path / "mute.mp4", tmp_path / "late.mov"
    nothing = ("-f", "lavfi", "-t", "0.8", "-i", "anullsrc=r=48000:cl=stereo")
    ffmpeg("-i", good, *nothing, "-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "aac", silent)
    ffmpeg("-i", good, "-an", "-c", "copy", mute)
    ffmpeg("-i", good, "-itsoffset", "0.5", "-i", good, "-map", "0:v", "-map", "1:a", "-c", "copy", late)
    assert "the sound is silent" in check(silent).output
    assert "    - no sound\n" in check(mute).output
    assert "the sound begins 0.5 s after the picture" in check(late).output


def test_slow_motion_is_told_by_its_tag_by_lesson_toml_or_asked_for(good: Path, tmp_path: Path) -> None:
    lesson = tmp_path / "lesson"
    (lesson / "clips" / "01-tee").mkdir(parents=True)
    (lesson / "clips" / "02-toss").mkdir()
    # The same pictures at 30 a second: nothing tells whether they were filmed at 60.
    slow, untold = lesson / "clips" / "01-tee" / "001.mp4", ("-map_metadata", "-1", "-c", "copy")
    ffmpeg("-itsscale", "2", "-i", good, *untold, slow)
    (lesson / "clips" / "02-toss" / "001.mp4").write_bytes(slow.read_bytes())
    assert "if it is slow motion, every speed will be wrong" in check(slow).output
    assert "capture_fps" in check(slow).output
    (lesson / "lesson.toml").write_text(
        '[player]\nname = "Robin"\nbats = "left"\n[ball]\nkind = "baseball"\n[field]\nbase_path_ft = 90\n'
        '[blocks."01-tee"]\ncapture_fps = 60\n'
    )
    said = check(lesson).output
    assert "slow motion, 2 times slower than life by lesson.toml, 60 frames/s; put right" in said
    assert "if it is slow motion" in said  # of the other block nothing is known
    tagged_clip = tmp_path / "tagged.mp4"
    ffmpeg("-i", slow, "-c", "copy", *tagged({"com.android.capture.fps": "120"}), tagged_clip)
    assert "4 times slower than life by the phone's own note, 120 frames/s" in check(tagged_clip).output


def test_a_folder_is_gone_through_and_what_is_no_clip_is_left_out_with_a_word(good: Path, tmp_path: Path) -> None:
    folder = tmp_path / "from the phone"
    folder.mkdir()
    for name in ("1.mp4", "2.mp4", "10.mp4", "11.mp4", "IMG_7.MOV"):
        (folder / name).write_bytes(good.read_bytes())
    (folder / "IMG_7.HEIC").write_bytes(b"\x00\x00\x00\x18ftypheic")
    (folder / "notes.txt").write_text("tee, then toss")
    (folder / "broken.mp4").write_bytes(good.read_bytes()[:5000])
    done = check(folder)
    assert done.exit_code == 3
    assert "1.mp4, from the phone/2.mp4 … from the phone/11.mp4: 4 clips alike" in done.output
    assert "IMG_7.HEIC: a still picture; IMG_7.MOV is the film that goes with it" in done.output
    assert "the moving part of the picture IMG_7.HEIC" in done.output
    assert "notes.txt: not a video" in done.output
    assert "cut short before its index was written" in done.output
    assert "copy it from the phone again" in done.output
    assert "5 of 6 clips are fit to measure." in done.output


def test_nothing_to_check_is_one_line(tmp_path: Path) -> None:
    still = tmp_path / "board.jpg"
    still.write_bytes(b"\xff\xd8\xff")
    for given, word in ((tmp_path / "gone", "no such file"), (tmp_path, "no clip"), (still, "a still picture")):
        done = check(given)
        assert done.exit_code == 1
        assert len(done.output.splitlines()) == 1
        assert word in done.output


def test_where_a_clip_was_filmed_is_not_repeated(good: Path, tmp_path: Path) -> None:
    placed = tmp_path / "placed.mp4"
    place = tagged({**APPLE, "com.apple.quicktime.location.ISO6709": "+12.3456-012.3456+007.000/"})
    ffmpeg("-i", good, "-c", "copy", *place, placed)
    assert "12.34" not in check(placed).output


def test_high_range_turned_and_mirrored_clips_are_described(good: Path, tmp_path: Path) -> None:
    turned, high = tmp_path / "turned.mp4", tmp_path / "high.mp4"
    ffmpeg("-display_rotation", "90", "-display_hflip", "-i", good, "-c", "copy", turned)
    said = check(turned).output
    assert "720 x 1280" in said
    assert "mirrored as its tag says" in said
    assert "lay the phone on its long side" in said
    tag = "scale=320:180,format=yuv420p10le,setparams=color_primaries=bt2020:color_trc=arib-std-b67:colorspace=bt2020nc"
    coder = ("-c:v", "libx265", "-preset", "ultrafast", "-qp", "20", "-x265-params", "log-level=none")
    ffmpeg("-i", good, "-vf", tag, *coder, "-c:a", "copy", "-frames:v", "12", high)
    said = check(high).output
    assert "HEVC of 10 bits" in said
    assert "high dynamic range (HLG)" in said
