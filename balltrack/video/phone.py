"""What a clip says of the phone that filmed it: make, model, lens, and the focal length where it tells one."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from balltrack.errors import VideoError
from balltrack.video.container import opened

MAKES = ("com.apple.quicktime.make", "com.android.manufacturer", "make")
MODELS = ("com.apple.quicktime.model", "com.android.model", "model")
LENSES = ("com.apple.quicktime.camera.lens_model",)
FOCALS_35MM = ("com.apple.quicktime.camera.focal_length.35mm_equivalent",)
SHORTEST_35MM, LONGEST_35MM = 8.0, 400.0  # of phones' lenses; what lies outside is no focal length
MOST_MOVIE_BYTES = 64_000_000  # an index of hours of film is smaller
_USUAL_RATES = (24, 25, 30, 48, 50, 60, 90, 100, 120, 240, 480, 960)
_SAME_RATE = 0.06  # phones in poor light fall short of the rate that they are set to by a few per cent
# Well-known types of values, QuickTime File Format, "Metadata Item Atoms": UTF-8; signed and unsigned big-endian
# integers of 1 to 4 bytes or as their type says; floats.
_TEXT, _SIGNED, _UNSIGNED, _FLOAT, _DOUBLE = 1, (21, 65, 66, 67, 74), (22, 75, 76, 77, 78), 23, 24


@dataclass(frozen=True, slots=True)
class Phone:
    """Who filmed a clip. Empty or None is what the clip does not say."""

    make: str = ""
    model: str = ""
    lens: str = ""
    focal_35mm: float | None = None  # focal length that on 24 x 36 mm film would show the same

    @property
    def name(self) -> str:
        """Make and model for people, the make not twice."""
        return self.model if self.model.casefold().startswith(self.make.casefold()) else f"{self.make} {self.model}"


def read_phone(path: Path) -> Phone:
    """Read the tags that phones write. Raises VideoError where the clip cannot be opened."""
    with opened(path) as container:
        tags = {key.casefold(): value for stream in container.streams for key, value in stream.metadata.items()}
        tags |= {key.casefold(): value for key, value in container.metadata.items()}
    tags = dict(_track_tags(path)) | tags
    make, model, lens, focal = (_first(tags, names) for names in (MAKES, MODELS, LENSES, FOCALS_35MM))
    return Phone(make, model, lens, _focal(focal))


def rate_class(fps: float) -> int:
    """The rate that a phone was set to, frames per real second: the usual one nearby, else the rounded one."""
    nearest = min(_USUAL_RATES, key=lambda usual: abs(usual - fps))
    return nearest if abs(nearest - fps) <= _SAME_RATE * nearest else round(fps)


def _first(tags: dict[str, str], names: tuple[str, ...]) -> str:
    return next((words for name in names if (words := " ".join(tags.get(name, "").split()))), "")


def _focal(text: str) -> float | None:
    try:
        focal = float(text)
    except ValueError:
        return None
    return focal if SHORTEST_35MM <= focal <= LONGEST_35MM else None


def _track_tags(path: Path) -> Iterator[tuple[str, str]]:
    """Tags of single tracks, which the decoder does not pass on: newer phones write the lens there."""
    try:
        with path.open("rb") as file:
            movie = _movie(file, path.stat().st_size)
    except OSError as error:
        raise VideoError(f"{path.name}: cannot be read: {error.strerror or error}") from None
    for kind, track in _boxes(movie):
        if kind == b"trak":
            for inner, meta in _boxes(track):
                if inner == b"meta":
                    yield from _meta_tags(meta)


def _movie(file: BinaryIO, size: int) -> bytes:
    """The inside of an MP4's or QuickTime file's movie box; empty where there is none."""
    at = 0
    while at + 8 <= size:
        file.seek(at)
        length, kind = struct.unpack(">I4s", file.read(8))
        head = 8
        if length == 1:
            wide = file.read(8)
            length, head = (struct.unpack(">Q", wide)[0] if len(wide) == 8 else 0), 16
        elif length == 0:
            length = size - at  # to the file's end
        if length < head:
            return b""
        if kind == b"moov":
            return file.read(min(length - head, MOST_MOVIE_BYTES))
        at += length
    return b""


def _boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and inside of one box after the other; ends where the bytes are no boxes."""
    at = 0
    while at + 8 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        if length < 8 or at + length > len(data):
            return
        yield kind, data[at + 8 : at + length]
        at += length


def _meta_tags(meta: bytes) -> Iterator[tuple[str, str]]:
    """Keys and values of one metadata box; ISO files put four bytes of version and flags before its boxes."""
    inside = dict(_boxes(meta)) or dict(_boxes(meta[4:]))
    keys = [name.decode("utf-8", "replace") for _, name in _boxes(inside.get(b"keys", b"")[8:])]
    for number, item in _boxes(inside.get(b"ilst", b"")):
        value = dict(_boxes(item)).get(b"data", b"")
        index = int.from_bytes(number, "big") - 1
        if 0 <= index < len(keys) and len(value) > 8:
            yield keys[index].casefold(), _words(int.from_bytes(value[:4], "big") & 0xFFFFFF, value[8:])


def _words(kind: int, value: bytes) -> str:
    if kind == _TEXT:
        return value.decode("utf-8", "replace")
    if kind in _SIGNED or kind in _UNSIGNED:
        return str(int.from_bytes(value, "big", signed=kind in _SIGNED))
    if (kind, len(value)) in ((_FLOAT, 4), (_DOUBLE, 8)):
        return f"{struct.unpack('>f' if kind == _FLOAT else '>d', value)[0]:g}"
    return ""
