"""Who filmed a clip, by the tags that phones write: of the file, and of its track."""

import struct
from pathlib import Path

import pytest

from balltrack.errors import VideoError
from balltrack.video.phone import Phone, rate_class, read_phone
from tests.video.encode import FOOTAGE, LOSSLESS, encode_luma, ffmpeg, moving_square
from tests.video.tags import APPLE, FOCAL_35MM, LENS_MODEL, tagged, with_track_tags


@pytest.mark.parametrize("suffix", [".mov", ".mp4"])
def test_make_and_model_are_read_from_the_file(tmp_path: Path, suffix: str) -> None:
    path = encode_luma(tmp_path / f"clip{suffix}", moving_square(3), *LOSSLESS, *tagged(APPLE))
    assert read_phone(path) == Phone("Example", "Phone 1")
    assert read_phone(path).name == "Example Phone 1"


def test_the_other_family_of_tags_is_read_too(tmp_path: Path) -> None:
    tags = {"com.android.manufacturer": "Example", "com.android.model": "EXAMPLE  X 2"}
    path = encode_luma(tmp_path / "clip.mp4", moving_square(3), *LOSSLESS, *tagged(tags))
    assert read_phone(path) == Phone("Example", "EXAMPLE X 2")
    assert read_phone(path).name == "EXAMPLE X 2"  # the make not twice


# Source of the types: QuickTime File Format, well-known types (from memory): 1 UTF-8, 21 and 22 integers, 23 float, 24
# double, 67 a signed integer of 4 bytes.
@pytest.mark.parametrize(
    ("kind", "value"),
    [
        (1, b"26"),
        (21, struct.pack(">i", 26)),
        (21, struct.pack(">b", 26)),
        (22, struct.pack(">H", 26)),
        (23, struct.pack(">f", 26.0)),
        (24, struct.pack(">d", 26.0)),
        (67, struct.pack(">i", 26)),
    ],
)
def test_the_lens_is_read_from_the_track_in_every_type(tmp_path: Path, kind: int, value: bytes) -> None:
    path = encode_luma(tmp_path / "clip.mov", moving_square(3), *LOSSLESS, *tagged(APPLE))
    with_track_tags(path, [(LENS_MODEL, 1, b"Example Phone 1 back camera"), (FOCAL_35MM, kind, value)])
    assert read_phone(path) == Phone("Example", "Phone 1", "Example Phone 1 back camera", 26.0)


@pytest.mark.parametrize(("kind", "value"), [(1, b"wide"), (1, b"-13"), (21, b""), (23, b"ab"), (99, b"26"), (1, b"0")])
def test_what_is_no_focal_length_is_none(tmp_path: Path, kind: int, value: bytes) -> None:
    path = encode_luma(tmp_path / "clip.mov", moving_square(3), *LOSSLESS)
    with_track_tags(path, [(FOCAL_35MM, kind, value)])
    assert read_phone(path).focal_35mm is None


@pytest.mark.parametrize("cut", range(0, 400, 23))
def test_boxes_cut_or_garbled_end_in_no_traceback(tmp_path: Path, cut: int) -> None:
    path = encode_luma(tmp_path / "clip.mov", moving_square(3), *LOSSLESS, *tagged(APPLE))
    with_track_tags(path, [(LENS_MODEL, 1, b"lens"), (FOCAL_35MM, 21, struct.pack(">i", 26))])
    data = bytearray(path.read_bytes())
    at = data.rindex(b"mdta") - 200 + cut
    data[at : at + 4] = b"\xff\xff\x00\x01"
    path.write_bytes(data)
    try:
        read_phone(path)
    except VideoError as error:
        assert "\n" not in str(error)


def test_a_clip_without_tags_says_nothing(tmp_path: Path) -> None:
    for name in ("clip.mp4", "clip.mkv", "clip.avi"):
        assert read_phone(encode_luma(tmp_path / name, moving_square(3), "-c:v", "mpeg4")) == Phone()
    assert Phone().name.strip() == ""


@pytest.mark.skipif(not FOOTAGE.is_dir(), reason="footage is not beside this checkout")
def test_a_real_phones_clip_names_the_phone() -> None:
    # Source: ffmpeg's own listing of the file's metadata.
    phone = read_phone(FOOTAGE / "containers" / "exo_dolbyVision-hdr.MOV")
    listing = ffmpeg("-i", FOOTAGE / "containers" / "exo_dolbyVision-hdr.MOV", "-f", "ffmetadata", "-").decode()
    assert phone.make and f"com.apple.quicktime.make={phone.make}" in listing
    assert phone.model and f"com.apple.quicktime.model={phone.model}" in listing


@pytest.mark.parametrize(
    ("fps", "told"), [(29.97, 30), (59.94, 60), (239.8, 240), (232.0, 240), (119.2, 120), (23.976, 24), (14.0, 14)]
)
def test_a_rate_is_the_one_that_the_phone_was_set_to(fps: float, told: int) -> None:
    # Source: the usual rates of phones and of television; 232 of 240 is a phone in poor light (judgement: 6 %).
    assert rate_class(fps) == told
