"""Tags such as phones write into their files, written into the tests' own."""

import struct
from collections.abc import Sequence
from pathlib import Path

APPLE = {"com.apple.quicktime.make": "Example", "com.apple.quicktime.model": "Phone 1"}
LENS_MODEL = "com.apple.quicktime.camera.lens_model"
FOCAL_35MM = "com.apple.quicktime.camera.focal_length.35mm_equivalent"


def tagged(tags: dict[str, str]) -> tuple[str, ...]:
    """Words to ffmpeg that write tags of the whole file."""
    pairs = [word for key, value in tags.items() for word in ("-metadata", f"{key}={value}")]
    return (*pairs, "-movflags", "use_metadata_tags")


def with_track_tags(path: Path, tags: Sequence[tuple[str, int, bytes]]) -> None:
    """Add key, type of value, value to the first track of an MP4 or MOV whose index lies at its end."""
    data = bytearray(path.read_bytes())
    movie = data.rindex(b"moov") - 4
    track = data.index(b"trak", movie) - 4
    meta = _meta(tags)
    end = track + int.from_bytes(data[track : track + 4], "big")
    data[end:end] = meta
    for at in (track, movie):
        data[at : at + 4] = struct.pack(">I", int.from_bytes(data[at : at + 4], "big") + len(meta))
    path.write_bytes(data)


def _meta(tags: Sequence[tuple[str, int, bytes]]) -> bytes:
    """A QuickTime metadata box: handler, keys, and items numbered as the keys."""
    keys = b"".join(_box(b"mdta", key.encode()) for key, _, _ in tags)
    items = b"".join(
        _box(struct.pack(">I", i + 1), _box(b"data", struct.pack(">II", kind, 0) + value))
        for i, (_, kind, value) in enumerate(tags)
    )
    handler = _box(b"hdlr", struct.pack(">II4s12sB", 0, 0, b"mdta", b"", 0))
    return _box(b"meta", handler + _box(b"keys", struct.pack(">II", 0, len(tags)) + keys) + _box(b"ilst", items))


def _box(kind: bytes, inside: bytes) -> bytes:
    return struct.pack(">I4s", len(inside) + 8, kind) + inside
