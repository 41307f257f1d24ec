"""What is written plays on any phone: checked with the reader of the package, and byte by byte where a player looks."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.video.clip import probe
from balltrack.video.colour import ColourTags, bgr_of, colour_tags, limited
from balltrack.video.container import opened, video_stream
from balltrack.video.encode import Planes, SlowedSound, Stretch, write_clip
from balltrack.video.frames import read_frames
from balltrack.video.sound import Sound, read_sound
from tests.video.encode import ffmpeg, moving_square

RATE_HZ = 48000
FRAME_OF_SOUND_S = 1024 / RATE_HZ  # AAC counts in pieces of 1024 samples: ISO/IEC 14496-3


def pictures(count: int = 30) -> list[Planes]:
    flat = np.full((48, 64), 128, np.uint8)
    return [(luma, flat, flat) for luma in moving_square(count)]


def clicking(at_s: float, length_s: float) -> Sound:
    samples = np.zeros(round(length_s * RATE_HZ), np.float32)
    start = round(at_s * RATE_HZ)
    samples[start : start + 96] = 0.9 * np.cos(np.arange(96) / 3)  # 2 ms
    return Sound(samples, RATE_HZ, 0.0)


def boxes(path: Path) -> list[str]:
    """Names of a file's outermost boxes, in order: a length of four bytes, then a name (ISO/IEC 14496-12, 4.2)."""
    data, at, names = path.read_bytes(), 0, []
    while at < len(data):
        names.append(data[at + 4 : at + 8].decode("ascii"))
        at += int.from_bytes(data[at : at + 4], "big")
    return names


def test_a_clip_is_of_the_kind_that_every_phone_plays(tmp_path: Path) -> None:
    path = tmp_path / "made" / "clip.mp4"
    write_clip(path, pictures(), Fraction(30))
    info = probe(path)
    assert (info.codec, info.size_px, info.bit_depth, info.full_range) == ("h264", (128, 96), 8, False)
    with opened(path) as container:
        assert video_stream(container, path).codec_context.pix_fmt == "yuv420p"
    names = boxes(path)
    assert names.index("moov") < names.index("mdat")  # playing can begin before the whole file is there
    assert [each.name for each in path.parent.iterdir()] == ["clip.mp4"]  # nothing is left beside it


def test_every_picture_comes_back_at_its_time(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    sent = pictures()
    write_clip(path, sent, Fraction(60000, 1001))
    frames = list(read_frames(path))
    assert len(frames) == len(sent)
    times_s = [frame.time_s for frame in frames]
    assert times_s == pytest.approx(np.arange(30) * 1001 / 60000, abs=1e-4)  # the file counts in 1/60000 s or finer
    for frame, (luma, _, _) in zip(frames, sent, strict=True):
        assert np.mean(np.abs(frame.luma.astype(int) - luma)) < 3  # levels: the square, 100 brighter, is where it was


def test_what_the_colours_mean_is_handed_on(tmp_path: Path) -> None:
    wide = ColourTags(primaries=9, transfer=14, matrix=9)  # BT.2020 with a curve of standard range: ITU-T H.273
    write_clip(tmp_path / "wide.mp4", pictures(3), Fraction(30), wide)
    assert colour_tags(tmp_path / "wide.mp4") == wide
    write_clip(tmp_path / "plain.mp4", pictures(3), Fraction(30))
    assert colour_tags(tmp_path / "plain.mp4") == ColourTags()


@pytest.mark.parametrize(("at_s", "heard_s"), [(0.2, 0.2), (0.5, 0.4 + 4 * 0.1), (0.8, 0.4 + 4 * 0.2 + 0.2)])
def test_a_click_is_heard_when_its_picture_is_shown(tmp_path: Path, at_s: float, heard_s: float) -> None:
    """0 to 0.4 s as it was, 0.4 to 0.6 s at a quarter of the speed, then on to 1 s: 1.6 s in all."""
    stretches = (Stretch(0.0, 0.4), Stretch(0.4, 0.6, 0.25), Stretch(0.6, 1.0))
    path = tmp_path / "clip.mp4"
    write_clip(path, pictures(96), Fraction(60), sound=SlowedSound(clicking(at_s, 1.0), stretches))
    sound = read_sound(path)
    assert sound is not None
    loud = np.abs(sound.samples) > 0.5 * np.abs(sound.samples).max()
    heard_at_s = sound.start_s + np.flatnonzero(loud) / sound.rate_hz
    # Half a picture is 8 ms; the click itself lasts 2 ms, or 8 ms where it is slowed, and is not repeated.
    assert heard_at_s[0] == pytest.approx(heard_s, abs=0.008)
    assert heard_at_s[-1] - heard_at_s[0] < 0.012
    assert len(sound.samples) / sound.rate_hz == pytest.approx(1.6, abs=2 * FRAME_OF_SOUND_S)


def test_where_the_clip_has_no_sound_yet_there_is_silence(tmp_path: Path) -> None:
    late = Sound(clicking(0.1, 0.5).samples, RATE_HZ, start_s=0.3)
    path = tmp_path / "clip.mp4"
    write_clip(path, pictures(60), Fraction(60), sound=SlowedSound(late, (Stretch(0.0, 1.0),)))
    sound = read_sound(path)
    assert sound is not None
    loudest_s = sound.start_s + np.argmax(np.abs(sound.samples)) / sound.rate_hz
    assert loudest_s == pytest.approx(0.4, abs=0.005)


def test_sound_of_a_stretched_slow_motion_file_is_taken_at_its_own_rate(tmp_path: Path) -> None:
    stretched = Sound(clicking(0.4, 2.0).samples, 4 * RATE_HZ, 0.0)  # 0.5 s of real time, the click at 0.1 s
    path = tmp_path / "clip.mp4"
    write_clip(path, pictures(30), Fraction(60), sound=SlowedSound(stretched, (Stretch(0.0, 0.5),)))
    sound = read_sound(path)
    assert sound is not None
    loudest_s = sound.start_s + np.argmax(np.abs(sound.samples)) / sound.rate_hz
    assert loudest_s == pytest.approx(0.1, abs=0.005)


def test_no_picture_and_pictures_of_two_sizes_are_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(VideoError, match="no picture to write"):
        write_clip(tmp_path / "none.mp4", [], Fraction(30))
    odd = pictures(2)
    half = tuple(plane[::2, ::2] for plane in odd[1])
    with pytest.raises(VideoError, match=r"\(96, 128\) and \(48, 64\)"):
        write_clip(tmp_path / "two.mp4", [odd[0], (half[0], half[1], half[2])], Fraction(30))
    assert list(tmp_path.iterdir()) == []


def test_a_picture_that_cannot_be_made_leaves_the_earlier_clip(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    write_clip(path, pictures(3), Fraction(30))
    before = path.read_bytes()

    def broken() -> Iterator[Planes]:
        yield from pictures(3)
        raise VideoError("the clip breaks off")

    with pytest.raises(VideoError, match="breaks off"):
        write_clip(path, broken(), Fraction(30))
    assert path.read_bytes() == before


def test_what_the_encoder_refuses_is_said_in_one_line(tmp_path: Path) -> None:
    odd = np.full((95, 127), 128, np.uint8)  # H.264 with 4:2:0 asks for even sides
    with pytest.raises(VideoError) as refused:
        write_clip(tmp_path / "odd.mp4", [(odd, odd[::2, ::2], odd[::2, ::2])] * 3, Fraction(30))
    assert "ffmpeg says" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_folder_that_is_no_folder_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "clips").write_text("a file")
    with pytest.raises(VideoError, match="cannot be written"):
        write_clip(tmp_path / "clips" / "clip.mp4", pictures(3), Fraction(30))


@pytest.mark.parametrize("matrix", ["bt709", "smpte170m"])
def test_colours_for_the_eye_are_those_of_another_decoder(tmp_path: Path, matrix: str) -> None:
    path, size = tmp_path / "colours.mp4", "64x64"
    turn = f"scale=out_color_matrix={matrix}:out_range=tv,format=yuv420p,setparams=colorspace={matrix}"
    source = ("-f", "lavfi", "-i", f"color=0xC86432:size={size}:duration=0.1:rate=30")
    ffmpeg(*source, "-vf", turn, "-c:v", "libx264", "-qp", "0", path)
    (frame, *_) = read_frames(path)
    shown = bgr_of((frame.luma, frame.cb, frame.cr), colour_tags(path))
    # Blue, green, red as they went into ffmpeg; three roundings to 8 bits of 219 levels leave 3 of 255.
    assert shown.reshape(-1, 3).mean(axis=0) == pytest.approx([0x32, 0x64, 0xC8], abs=3)


def test_full_range_becomes_limited_range_with_the_same_ends() -> None:
    # Source: ITU-R BT.601: black 16, white 235, colour differences 16 to 240 about 128.
    full = np.array([[0, 255]], np.uint8)
    luma, cb, cr = limited((full, full, np.array([[128, 128]], np.uint8)))
    assert luma.tolist() == [[16, 235]]
    assert cb.tolist() == [[16, 240]]
    assert cr.tolist() == [[128, 128]]
