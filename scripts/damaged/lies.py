"""Files that are whole and lie: pictures that no memory holds, rates that no camera has, lists that lead elsewhere."""

import struct
import zlib
from collections.abc import Iterator, Sequence

from damaged.breakage import Named

HUGE = (65500, 65500)  # as large as a JPEG may say that it is; 13 GB as a colour picture


def lying_clips(sound: Sequence[Named]) -> Iterator[Named]:
    """Clips and what is called one."""
    by_name = {file.name: file.data for file in sound}
    mp4, avi, mkv = by_name["h264.mp4"], by_name["mjpeg.avi"], by_name["png.mkv"]
    for what, data in _lying_mp4s(mp4):
        yield Named(f"{what}.mp4", data)
    yield Named("jpegs-of-65500-px.avi", _larger_jpegs(avi))
    yield Named("pngs-of-100000-px.mkv", _larger_pngs(mkv))
    for rate in (0, 1, 0x7FFFFFFF, 0xFFFFFFFF):
        yield Named(f"scale-{rate}.avi", _number_behind(avi, b"vidsMJPG", 20, rate, "<I"))  # dwScale, then dwRate
        yield Named(f"rate-{rate}.avi", _number_behind(avi, b"vidsMJPG", 24, rate, "<I"))
    for name, data in (
        ("picture.mp4", bomb_png(100, 100)),
        ("bomb-picture.mp4", bomb_png(30000, 30000)),
        ("bomb-picture.png", bomb_png(100000, 100000)),
        ("bomb-picture.jpg", _larger_jpegs(_first_jpeg(avi))),
        ("playlist.mp4", b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n"),
        ("list.mp4", b"ffconcat version 1.0\nfile sound/h264.mp4\n"),
        ("session.mp4", b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 9 RTP/AVP 96\n"),
        ("image.mp4", b'<svg xmlns="http://www.w3.org/2000/svg" width="99999" height="99999"/>'),
        ("page.mp4", b"<!DOCTYPE html><title>404</title>"),
        ("archive.mp4", b"PK\x03\x04" + bytes(200)),
        ("empty.mp4", b""),
        ("zeros.mp4", bytes(100_000)),
        ("one-byte.mov", b"\x00"),
        ("text.mkv", "نص\n".encode() * 100),
    ):
        yield Named(name, data)


def bomb_png(width: int, height: int) -> bytes:
    """A PNG that says it has that size, of a few hundred bytes."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(100_000), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _lying_mp4s(mp4: bytes) -> Iterator[tuple[str, bytes]]:
    """Places are those of ISO/IEC 14496-12: bytes from a box's name on."""
    size = struct.pack(">HH", 65535, 65535)
    at = mp4.index(b"avc1", mp4.index(b"stsd")) + 28
    yield "size-65535", mp4[:at] + size + mp4[at + 4 :]
    for name, offset, what in (
        (b"mdhd", 16, "timescale"),
        (b"mvhd", 16, "movie-timescale"),
        (b"stts", 8, "stts-count"),
        (b"stts", 12, "stts-samples"),
        (b"stts", 16, "interval"),
        (b"stsz", 8, "uniform-size"),
        (b"stsz", 12, "samples"),
        (b"stco", 8, "chunks"),
        (b"elst", 12, "edit-length"),
        (b"elst", 16, "edit-start"),
        (b"elst", 20, "edit-speed"),
    ):
        for value in (0, 1, 0x7FFFFFFF, 0xFFFFFFFF):
            yield f"{what}-{value}", _number_behind(mp4, name, offset, value, ">I")


def _number_behind(data: bytes, name: bytes, offset: int, value: int, form: str) -> bytes:
    """Another number so many bytes behind the first letter of a name."""
    at = data.index(name) + offset
    return data[:at] + struct.pack(form, value) + data[at + 4 :]


def _larger_jpegs(data: bytes) -> bytes:
    """Every JPEG in it says that it is ``HUGE``: height and width stand 5 bytes behind the mark of a frame, FF C0."""
    out, at = bytearray(data), 0
    while (at := data.find(b"\xff\xc0\x00\x11\x08", at)) >= 0:
        out[at + 5 : at + 9] = struct.pack(">HH", *HUGE)
        at += 9
    return bytes(out)


def _larger_pngs(data: bytes) -> bytes:
    out, at = bytearray(data), 0
    while (at := data.find(b"IHDR", at)) >= 0:
        head = b"IHDR" + struct.pack(">II", 100_000, 100_000) + data[at + 12 : at + 17]
        out[at : at + 21] = head + struct.pack(">I", zlib.crc32(head))
        at += 21
    return bytes(out)


def _first_jpeg(avi: bytes) -> bytes:
    start = avi.index(b"\xff\xd8\xff")
    return avi[start : avi.index(b"\xff\xd9", start) + 2]


def lying_texts() -> Iterator[Named]:
    """lesson.toml and records that are no lesson and no records."""
    tomls = {
        "nested.toml": b"a = " + b"[" * 50_000,
        "nested-tables.toml": b"[" + b"a." * 5_000 + b"a]\nb = 1\n",
        "nested-inline.toml": b"a = " + b"{a = " * 3000 + b"1" + b"}" * 3000,
        "long-number.toml": b"a = " + b"9" * 10_000,
        "large-number.toml": b"[player]\nname = 0x" + b"f" * 3000 + b"\n",
        "many-entries.toml": b"".join(b"a%d = 1\n" % number for number in range(20_000)),
        "many-tables.toml": b"".join(b"[[t]]\nx = 1\n" for _ in range(5_000)),
        "long-name.toml": b'"' + b"k" * 500_000 + b'" = 1\n',
        "lines-in-a-name.toml": b'"a\\nb\\u001b[31m" = 1\n[player]\nname = "x\\ny"\nbats = "\\u202eleft"\n',
        "too-large.toml": b"# \n" * 500_000,
        "wide.toml": "name = 1\n".encode("utf-16"),
        "endless.toml": b"[player]\nname = nan\nbats = inf\n[field]\nbase_path_ft = -inf\n",
    }
    records = {
        "nested.swings.jsonl": b"[" * 100_000,
        "nested-value.swings.jsonl": b'{"swing": ' + b"[" * 900 + b"]" * 900 + b"}",
        "long-number.swings.jsonl": b'{"swing": ' + b"9" * 10_000 + b"}",
        "large-number.swings.jsonl": b'{"contact_s": ' + b"9" * 400 + b"}",
        "nested.basis.json": b'{"swings": ' + b"[" * 100_000,
        "nested.camera.json": b"{" + b'"a": {' * 50_000,
        "nested.hand.json": b'{"swings": ' + b"[" * 100_000,
        "nested.drawings.jsonl": b'{"marks": ' + b"[" * 100_000,
        "long-cell.hand.csv": b"time_s,u_px,v_px,diameter_px\n" + b"1" * 200_000 + b",1,1,1\n",
        "zeros.hand.csv": bytes(1000),
    }
    for name, data in {**tomls, **records}.items():
        yield Named(name, data)
