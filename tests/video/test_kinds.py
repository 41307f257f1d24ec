"""Kinds of file that coaches bring: each a real one by the ffmpeg program, each read to the same pictures and times."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.stamps import frame_times_s
from tests.video.encode import LOSSLESS, encode_luma, ffmpeg, moving_square


@pytest.mark.parametrize(
    ("name", "coder"),
    [
        ("av1.mp4", ("-c:v", "libsvtav1", "-preset", "12", "-crf", "10")),
        ("av1.mkv", ("-c:v", "libaom-av1", "-cpu-used", "8", "-crf", "10", "-b:v", "0")),
        ("vp9.webm", ("-c:v", "libvpx-vp9", "-lossless", "1", "-deadline", "realtime", "-cpu-used", "8")),
        ("vp9.mp4", ("-c:v", "libvpx-vp9", "-lossless", "1", "-deadline", "realtime", "-cpu-used", "8")),
        ("hevc.mov", ("-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "lossless=1:log-level=none")),
        ("mpeg4.avi", ("-c:v", "mpeg4", "-q:v", "2")),
        ("h263.3gp", ("-c:v", "h263", "-q:v", "2")),
    ],
)
def test_every_codec_gives_the_pictures_and_times_that_went_in(
    tmp_path: Path, name: str, coder: tuple[str, ...]
) -> None:
    luma = moving_square(12)
    frames = list(read_frames(encode_luma(tmp_path / name, luma, *coder, fps=25)))
    # Matroska keeps times to 1 ms; the others count in 1/25 s or finer.
    assert [f.time_s for f in frames] == pytest.approx(np.arange(12) / 25, abs=6e-4)
    # Lossless where the codec can; else the square, 100 levels brighter, is where it was to a level or two in the mean.
    assert np.mean(np.abs(np.array([f.luma for f in frames], int) - luma)) < 2


@pytest.mark.parametrize("size", [(130, 98), (126, 94), (176, 1716)])
def test_sizes_that_are_no_multiple_of_a_block_come_whole(tmp_path: Path, size: tuple[int, int]) -> None:
    luma = moving_square(4, *size)
    path = encode_luma(tmp_path / "odd.mp4", luma, *LOSSLESS)
    assert probe(path).size_px == size
    assert np.array_equal([f.luma for f in read_frames(path)], luma)


def test_4k_at_120_frames_a_second_is_read_at_its_own_times(tmp_path: Path) -> None:
    luma = np.repeat(np.repeat(moving_square(6, 240, 135), 16, axis=1), 16, axis=2)
    path = encode_luma(tmp_path / "4k.mp4", luma, "-c:v", "libx264", "-preset", "ultrafast", "-qp", "10", fps=120)
    info = probe(path)
    assert (info.size_px, round(info.nominal_fps)) == ((3840, 2160), 120)
    frames = list(read_frames(path))
    assert [f.time_s for f in frames] == pytest.approx(np.arange(6) / 120, abs=1e-5)
    assert abs(int(frames[5].luma[16 * 12, 16 * 12]) - 230) <= 3  # the square, by now at columns 10 to 25


def test_an_edit_list_that_hides_the_beginning_hides_it_here_too(tmp_path: Path) -> None:
    # A cut without re-encoding in the phone's gallery: the pictures before the cut are in the file, to decode from.
    whole = encode_luma(tmp_path / "whole.mp4", moving_square(50), *LOSSLESS, "-g", "25", fps=25)
    cut = tmp_path / "cut.mp4"
    ffmpeg("-ss", "0.4", "-i", whole, "-c", "copy", cut)
    frames = list(read_frames(cut))
    assert np.array_equal([f.luma for f in frames], moving_square(50)[10:])
    assert [f.time_s for f in frames] == pytest.approx(np.arange(40) / 25, abs=1e-4)
    assert frame_times_s(probe(cut))[-40:] == pytest.approx(np.arange(40) / 25, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "stored", "hidden"),
    [
        # A file that begins before its own zero: its edit list hides that, here as in players.
        ("early.mov", ("-output_ts_offset", "-0.4", "-avoid_negative_ts", "disabled"), 10),
        # Pictures shown before they are decoded, stored as offsets below zero.
        (
            "offsets.mp4",
            ("-movflags", "negative_cts_offsets", "-avoid_negative_ts", "disabled", "-use_editlist", "0"),
            0,
        ),
    ],
)
def test_negative_times_shift_and_lose_nothing(
    tmp_path: Path, name: str, stored: tuple[str, ...], hidden: int
) -> None:
    reordered = ("-c:v", "libx264", "-qp", "0", "-bf", "2", "-b_strategy", "0", "-g", "5")
    plain = encode_luma(tmp_path / "plain.mp4", moving_square(20), *reordered, fps=25)
    ffmpeg("-i", plain, "-c", "copy", *stored, tmp_path / name)
    frames = list(read_frames(tmp_path / name))
    assert np.array_equal([f.luma for f in frames], moving_square(20)[hidden:])
    assert [f.time_s for f in frames] == pytest.approx(np.arange(20 - hidden) / 25, abs=1e-4)
    part = list(read_frames(tmp_path / name, 0.119, 0.201))
    assert np.array_equal([f.luma for f in part], moving_square(20)[hidden + 3 : hidden + 6])
