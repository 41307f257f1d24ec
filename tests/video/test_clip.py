"""What a clip says of itself, and one clear line for each file that is none."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.sound import read_sound
from tests.video.encode import FOOTAGE, LOSSLESS, encode_luma, ffmpeg, flash_and_click, moving_square, write_wave

CLIPS = [p for folder in ("containers", "toss", "fields") for p in sorted((FOOTAGE / folder).glob("*"))]
CLIPS = [p for p in CLIPS if p.suffix.lower() not in {".png", ".jpg"}]


def _refused(path: Path) -> str:
    with pytest.raises(VideoError) as refusal:
        list(read_frames(path))
    message = str(refusal.value)
    assert message.startswith(path.name + ": ")
    assert "\n" not in message
    return message


def test_a_plain_clip_is_described(tmp_path: Path) -> None:
    info = probe(flash_and_click(tmp_path / "plain.mp4"))
    assert (info.size_px, info.stored_size_px, info.rotation_deg, info.mirrored) == ((64, 64), (64, 64), 0, False)
    assert (info.codec, info.bit_depth, info.full_range) == ("h264", 8, False)
    assert info.nominal_fps == pytest.approx(60, rel=0.001)
    assert info.duration_s == pytest.approx(1.0, abs=0.02)
    assert (info.frame_count_hint, info.time_scale, info.has_sound) == (60, 1.0, True)
    assert info.warnings == ()


@pytest.mark.parametrize(
    ("capture", "fps", "scale"),
    [("240", 30, 1 / 8), ("120.000000", 30, 1 / 4), ("240", 60, 1 / 4), ("30", 30, 1), ("240", 240, 1), ("x", 30, 1)],
)
def test_only_a_stretched_file_is_put_back_to_real_time(tmp_path: Path, capture: str, fps: int, scale: float) -> None:
    tag = ("-metadata", f"com.android.capture.fps={capture}", "-movflags", "use_metadata_tags")
    path = encode_luma(tmp_path / "slow.mp4", moving_square(30), *LOSSLESS, *tag, fps=fps)
    info = probe(path)
    assert info.time_scale == scale
    assert info.nominal_fps == pytest.approx(fps / scale)
    assert info.duration_s == pytest.approx(30 / fps * scale)
    times_s = [f.time_s for f in read_frames(path)]
    assert np.diff(times_s) == pytest.approx(scale / fps, abs=1e-6)


def test_speed_that_changes_inside_the_clip_is_warned_of(tmp_path: Path) -> None:
    args = ("-vf", "setpts=if(lt(N\\,30)\\,N/120\\,0.25+(N-30)/20)/TB", "-fps_mode", "passthrough", *LOSSLESS)
    info = probe(encode_luma(tmp_path / "edited.mp4", moving_square(50), *args, "-video_track_timescale", "90000"))
    assert any("changes inside the clip" in warning for warning in info.warnings)
    assert info.time_scale == 1.0


@pytest.mark.parametrize("large_first", [True, False])
def test_of_two_films_in_one_file_the_larger_is_used_and_said(tmp_path: Path, large_first: bool) -> None:
    large = encode_luma(tmp_path / "large.mp4", moving_square(10, 192, 96), *LOSSLESS)
    small = encode_luma(tmp_path / "small.mp4", moving_square(10), *LOSSLESS)
    path, order = tmp_path / "both.mov", (large, small) if large_first else (small, large)
    ffmpeg("-i", order[0], "-i", order[1], "-map", "0", "-map", "1", "-c", "copy", path)
    info = probe(path)
    assert info.size_px == (192, 96)
    assert any("192 x 96 is used" in warning for warning in info.warnings)
    assert np.array_equal([f.luma for f in read_frames(path)], moving_square(10, 192, 96))


def test_of_two_films_alike_that_is_used_which_players_show(tmp_path: Path) -> None:
    first = encode_luma(tmp_path / "first.mp4", moving_square(10), *LOSSLESS)
    second = encode_luma(tmp_path / "second.mp4", 250 - moving_square(10), *LOSSLESS)
    path, shown = tmp_path / "both.mkv", ("-disposition:v:0", "0", "-disposition:v:1", "default")
    ffmpeg("-i", first, "-i", second, "-map", "0", "-map", "1", "-c", "copy", *shown, path)
    assert np.array_equal(next(read_frames(path)).luma, 250 - moving_square(1)[0])


def test_a_missing_file_a_folder_and_an_empty_file_are_named(tmp_path: Path) -> None:
    assert "no such file" in _refused(tmp_path / "gone.mp4")
    assert "a folder" in _refused(tmp_path)
    (tmp_path / "empty.mp4").touch()
    assert "empty (0 bytes)" in _refused(tmp_path / "empty.mp4")


def test_a_text_file_is_not_a_video(tmp_path: Path) -> None:
    path = tmp_path / "notes.mp4"
    path.write_text("Bring the tee.\n" * 50)
    assert "not a video" in _refused(path)


def test_sound_alone_is_not_a_clip(tmp_path: Path) -> None:
    sound = write_wave(tmp_path / "voice.wav", np.zeros(4800))
    ffmpeg("-i", sound, tmp_path / "voice.m4a")
    assert "no video stream" in _refused(tmp_path / "voice.m4a")


def test_a_cover_picture_is_no_video_stream(tmp_path: Path) -> None:
    sound = write_wave(tmp_path / "song.wav", np.zeros(4800))
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1", tmp_path / "cover.png")
    cover = ("-i", tmp_path / "cover.png", "-map", "0", "-map", "1", "-c:v", "copy", "-disposition:v", "attached_pic")
    ffmpeg("-i", sound, *cover, tmp_path / "song.m4a")
    assert "no video stream" in _refused(tmp_path / "song.m4a")


def test_a_clip_without_pictures_says_so(tmp_path: Path) -> None:
    path = tmp_path / "none.avi"
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64:r=25", "-t", "0", "-c:v", "mpeg4", path)
    assert "no picture" in _refused(path) or "not a video" in _refused(path)


def test_a_clip_cut_before_its_index_is_refused(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "cut.mp4", moving_square(60), *LOSSLESS)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert "cut short" in _refused(path)


def test_a_clip_cut_after_its_index_gives_the_frames_so_far_and_a_warning(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "cut.mp4", moving_square(60), *LOSSLESS, "-movflags", "+faststart")
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    info = probe(path)
    assert any("cut short" in warning for warning in info.warnings)
    frames = list(read_frames(path))
    assert 10 < len(frames) < 60
    assert np.array_equal([f.luma for f in frames[:10]], moving_square(60)[:10])


@pytest.mark.parametrize("seed", range(12))
def test_no_damage_ends_in_a_traceback(tmp_path: Path, seed: int) -> None:
    path = flash_and_click(tmp_path / "damaged.mp4", "-movflags", "+faststart")
    random = np.random.default_rng(seed)
    data = np.frombuffer(path.read_bytes(), np.uint8).copy()
    data[random.integers(0, len(data), 40)] = random.integers(0, 256, 40)
    path.write_bytes(data[: random.integers(len(data) // 4, len(data))].tobytes())
    try:
        list(read_frames(path))
        read_sound(path)
    except VideoError as error:
        assert "\n" not in str(error)


@pytest.mark.skipif(not CLIPS, reason="the real clips of ../shared/footage are absent")
@pytest.mark.parametrize("path", CLIPS, ids=lambda p: p.name)
def test_every_real_file_gives_frames_or_one_clear_line(path: Path) -> None:
    try:
        reader = read_frames(path)
        count = sum(1 for _ in reader)
    except VideoError as error:
        assert path.name == "exo_invalid-bitstream.webm"  # made not to decode
        assert "\n" not in str(error)
        return
    assert count >= reader.info.frame_count_hint - 5
    read_sound(path, reader.info)


# Source of every row: the table of the real files, made with ffprobe and by eye.
@pytest.mark.parametrize(
    ("name", "size_px", "rotation_deg", "bit_depth", "full_range", "time_scale"),
    [
        ("containers/exo_sample_android_slow_motion.mp4", (1280, 720), 0, 8, True, 1 / 8),
        ("containers/exo_portrait_4k60.mp4", (2160, 3840), 90, 8, True, 1),
        ("containers/exo_dolbyVision-hdr.MOV", (720, 1280), 90, 10, False, 1),
        ("containers/exo_h265_with_metadata_track.mp4", (1080, 1920), 90, 8, True, 1),
        ("containers/exo_video_1.mp4", (288, 352), 270, 8, False, 1),
        ("containers/exo_sample_with_htc_rotation_track_name.mkv", (720, 1080), 90, 8, False, 1),
        ("containers/decord_video_180.mov", (568, 320), 180, 8, False, 1),
        ("containers/tc_h265_10bits.mp4", (200, 200), 0, 10, False, 1),
        ("toss/phone_drop_120fps_rot90.mp4", (172, 1716), 90, 8, True, 1 / 4),
    ],
)
def test_real_files_are_described_as_they_are(
    name: str, size_px: tuple[int, int], rotation_deg: int, bit_depth: int, full_range: bool, time_scale: float
) -> None:
    path = FOOTAGE / name
    if not path.exists():
        pytest.skip("the real clips of ../shared/footage are absent")
    info = probe(path)
    assert (info.size_px, info.rotation_deg, info.bit_depth) == (size_px, rotation_deg, bit_depth)
    assert (info.full_range, info.time_scale) == (full_range, time_scale)


def test_a_real_ball_dropped_in_slow_motion_falls_with_gravity() -> None:
    path = FOOTAGE / "toss" / "phone_drop_120fps_rot90.mp4"
    if not path.exists():
        pytest.skip("the real clips of ../shared/footage are absent")
    # Source: 2.32 m from release (frame 118) to the floor (frame 201), both read by eye to about 3 %;
    # h = g t² / 2 then gives g, standard gravity 9.80665 m/s².
    times_s = [f.time_s for f in read_frames(path)]
    fall_s = times_s[201] - times_s[118]
    assert 2 * 2.32 / fall_s**2 == pytest.approx(9.80665, rel=0.06)


def test_a_real_clip_with_a_vendors_speed_trailer_is_warned_of() -> None:
    path = FOOTAGE / "containers" / "exo_sample_sef_slow_motion.mp4"
    if not path.exists():
        pytest.skip("the real clips of ../shared/footage are absent")
    info = probe(path)
    assert info.time_scale == 1.0
    assert any("240 frames/s" in warning for warning in info.warnings)
