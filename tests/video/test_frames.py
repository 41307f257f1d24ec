"""Frames: true pixels, upright, with the file's own times."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from tests.video.encode import LOSSLESS, encode_luma, ffmpeg, moving_square


@pytest.fixture(scope="module")
def reordered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds with B-frames and a key frame every 15."""
    path = tmp_path_factory.mktemp("clip") / "reordered.mp4"
    args = ("-c:v", "libx264", "-bf", "3", "-b_strategy", "0", "-g", "15", "-qp", "0")
    return encode_luma(path, moving_square(60), *args)


@pytest.mark.parametrize("name", ["clip.mp4", "clip.mov", "clip.mkv"])
def test_lossless_luma_comes_back_byte_for_byte_at_its_own_time(tmp_path: Path, name: str) -> None:
    luma = moving_square(20)
    frames = list(read_frames(encode_luma(tmp_path / name, luma, *LOSSLESS, fps=25)))
    assert np.array_equal([f.luma for f in frames], luma)
    # Matroska keeps times to 1 ms, the others exactly.
    assert [f.time_s for f in frames] == pytest.approx(np.arange(20) / 25, abs=6e-4 if name.endswith("mkv") else 1e-9)
    assert [f.index for f in frames] == list(range(20))


def test_ten_bit_hevc_is_rounded_to_eight_bits(tmp_path: Path) -> None:
    # Luma steps of one in ten bits, all below the top code: 8 bits can be off by half a step at most.
    luma = (64 + np.arange(3 * 96 * 128) % 870).reshape(3, 96, 128).astype(np.uint16)
    raw = np.concatenate([luma, np.full((3, 48, 128), 512, np.uint16)], axis=1)
    args = ("-f", "rawvideo", "-pix_fmt", "yuv420p10le", "-s", "128x96", "-r", "30", "-i", "-")
    path = tmp_path / "deep.mp4"
    ffmpeg(*args, "-c:v", "libx265", "-x265-params", "lossless=1:log-level=none", path, stdin=raw.tobytes())
    assert probe(path).bit_depth == 10
    frames = list(read_frames(path))
    assert frames[0].luma.dtype == np.uint8
    assert np.abs(np.array([f.luma for f in frames]) - luma / 4).max() <= 0.5
    assert np.all(frames[0].cb == 128)


def test_variable_rate_times_are_the_files_own(tmp_path: Path) -> None:
    # Frames 5 to 9 come 70 ms late, as when a phone stalls.
    args = (
        "-vf",
        "settb=1/90000,setpts=PTS+gte(N\\,5)*0.07/TB",
        "-enc_time_base",
        "1/90000",
        "-fps_mode",
        "passthrough",
        *LOSSLESS,
    )
    path = encode_luma(tmp_path / "late.mp4", moving_square(10), *args, "-video_track_timescale", "90000", fps=25)
    expected = np.arange(10) / 25 + 0.07 * (np.arange(10) >= 5)
    assert [f.time_s for f in read_frames(path)] == pytest.approx(expected, abs=1 / 90000)


@pytest.mark.parametrize("turn", ["0", "90", "180", "270"])
@pytest.mark.parametrize("flips", [(), ("-display_hflip",), ("-display_vflip",)])
def test_every_way_of_holding_the_phone_comes_out_upright(tmp_path: Path, turn: str, flips: tuple[str, ...]) -> None:
    stored = encode_luma(tmp_path / "stored.mp4", moving_square(3), *LOSSLESS)
    path = tmp_path / "turned.mp4"
    ffmpeg("-display_rotation", turn, *flips, "-i", stored, "-c", "copy", path)
    info = probe(path)
    frames = list(read_frames(path))
    assert info.size_px == frames[0].luma.shape[::-1]
    assert info.stored_size_px == (128, 96)
    assert info.mirrored == bool(flips)
    # Source: the ffmpeg program, which turns and flips by itself while it decodes.
    wanted = np.frombuffer(ffmpeg("-i", path, "-f", "rawvideo", "-pix_fmt", "yuv420p", "-"), np.uint8)
    luma = wanted.reshape(3, -1)[:, : 128 * 96].reshape(3, *frames[0].luma.shape)
    assert np.array_equal([f.luma for f in frames], luma)


def test_chroma_is_turned_with_the_luma(tmp_path: Path) -> None:
    stored = tmp_path / "stored.mp4"
    ffmpeg("-f", "lavfi", "-i", "testsrc2=s=64x48:d=0.1:r=30", *LOSSLESS, "-pix_fmt", "yuv420p", stored)
    ffmpeg("-display_rotation", "90", "-i", stored, "-c", "copy", tmp_path / "turned.mp4")
    frame = next(read_frames(tmp_path / "turned.mp4"))
    wanted = ffmpeg("-i", tmp_path / "turned.mp4", "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "yuv420p", "-")
    assert frame.luma.tobytes() + frame.cb.tobytes() + frame.cr.tobytes() == wanted


def test_b_frames_come_in_order_of_time(reordered: Path) -> None:
    times_s = [f.time_s for f in read_frames(reordered)]
    assert times_s == pytest.approx(np.arange(60) / 30, abs=1e-9)
    assert np.array_equal([f.luma for f in read_frames(reordered)], moving_square(60))


@pytest.mark.parametrize("start", [0, 1, 13, 14, 15, 16, 17, 29, 30, 31, 44, 46, 58])
def test_a_window_holds_the_frames_that_the_whole_reading_has_there(reordered: Path, start: int) -> None:
    luma = moving_square(60)
    frames = list(read_frames(reordered, start / 30 - 1e-6, (start + 4) / 30 - 1e-6))
    assert [f.time_s for f in frames] == pytest.approx(np.arange(start, min(start + 4, 60)) / 30)
    assert np.array_equal([f.luma for f in frames], luma[start : start + 4])


def test_a_window_beyond_the_end_is_empty(reordered: Path) -> None:
    assert list(read_frames(reordered, 100.0, 101.0)) == []


def test_a_window_reads_in_slow_motion_seconds(tmp_path: Path) -> None:
    tag = ("-metadata", "com.android.capture.fps=120", "-movflags", "use_metadata_tags")
    path = encode_luma(tmp_path / "slow.mp4", moving_square(60), *LOSSLESS, "-g", "10", *tag)
    frames = list(read_frames(path, 0.2499, 0.2751))
    assert [f.time_s for f in frames] == pytest.approx([30 / 120, 31 / 120, 32 / 120, 33 / 120])
    assert np.array_equal(frames[0].luma, moving_square(60)[30])


def test_kept_frames_stay_true_while_reading_goes_on(reordered: Path) -> None:
    kept, copies = [], []
    for frame in read_frames(reordered):
        kept.append(frame.luma)
        copies.append(frame.luma.copy())
    assert np.array_equal(kept, copies)


def test_frames_cannot_be_written_to(reordered: Path) -> None:
    frame = next(read_frames(reordered))
    with pytest.raises(ValueError, match="read-only"):
        frame.luma[0, 0] = 1


def test_more_threads_give_the_same_frames(reordered: Path) -> None:
    assert np.array_equal([f.luma for f in read_frames(reordered, threads=2)], moving_square(60))


@pytest.mark.parametrize("pixels", ["yuv422p", "yuv444p", "gray", "yuvj420p", "yuv422p10le", "yuv420p"])
def test_other_pixel_formats_keep_their_luma(tmp_path: Path, pixels: str) -> None:
    luma = moving_square(3)
    args = ("-vf", f"format={pixels}", *LOSSLESS)
    path = encode_luma(tmp_path / "odd.mp4", luma, *args)
    # The truth is what ffmpeg itself would store as 8-bit 4:2:0 of the same range; conversions round by 1 code each.
    pixels_8 = "yuvj420p" if probe(path).full_range else "yuv420p"
    raw = np.frombuffer(ffmpeg("-i", path, "-f", "rawvideo", "-pix_fmt", pixels_8, "-"), np.uint8)
    wanted = raw.reshape(3, -1)[:, : luma[0].size].reshape(luma.shape)
    assert np.abs(np.array([f.luma for f in read_frames(path)], int) - wanted).max() <= 2
    assert probe(path).full_range == (pixels in {"yuvj420p", "gray"})  # ffmpeg stores gray as full range


def test_odd_sizes_round_the_chroma_up(tmp_path: Path) -> None:
    path = tmp_path / "odd.mkv"
    ffmpeg("-f", "lavfi", "-i", "color=red:s=65x49:d=0.1:r=30", "-c:v", "ffv1", "-pix_fmt", "yuv420p", path)
    frame = next(read_frames(path))
    assert frame.luma.shape == (49, 65)
    assert frame.cb.shape == frame.cr.shape == (25, 33)


def test_repeated_times_are_left_out_and_counted(tmp_path: Path) -> None:
    # One picture in four is stored with the time of the picture before it.
    path = encode_luma(tmp_path / "plain.mkv", moving_square(20), "-c:v", "mpeg4", fps=25)
    repeat = "setts=dts=N:pts=100+40*(N-eq(mod(N\\,4)\\,3))"
    ffmpeg("-i", path, "-c", "copy", "-bsf:v", repeat, tmp_path / "r.mkv")
    reader = read_frames(tmp_path / "r.mkv")
    times_s = [f.time_s for f in reader]
    assert all(later > earlier for earlier, later in pairwise(times_s))
    assert (len(times_s), reader.repeated) == (15, 5)
    assert reader.warnings == ("5 pictures with a repeated or backward time left out",)


def test_a_damaged_picture_is_left_out_counted_and_the_rest_still_comes(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "clip.mp4", moving_square(30), "-c:v", "libx264", "-g", "5", "-qp", "20", "-bf", "0")
    data = bytearray(path.read_bytes())
    middle = data.index(b"mdat") + (len(data) - data.index(b"mdat")) // 2
    data[middle : middle + 40] = b"\xff" * 40
    path.write_bytes(data)
    reader = read_frames(path)
    count = len(list(reader))
    assert 20 <= count <= 30
    assert count + reader.damaged >= 29


def test_a_picture_that_changes_size_is_an_error_that_says_when(tmp_path: Path) -> None:
    codec = ("-c:v", "libx264", "-bf", "0")
    small = encode_luma(tmp_path / "a.ts", moving_square(5), *codec)
    large = encode_luma(tmp_path / "b.ts", moving_square(5, 192, 96), *codec, "-output_ts_offset", "1")
    path = tmp_path / "joined.ts"
    path.write_bytes(small.read_bytes() + large.read_bytes())
    with pytest.raises(VideoError, match=r"joined\.ts: the picture changes from 128x96 to 192x96"):
        list(read_frames(path))
