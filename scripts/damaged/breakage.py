"""Sound files broken as disks, cables and ill will do it: cut, bits turned, stretches lost, doubled or exchanged."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

CLIPS, TOMLS, RECORDS = 150, 60, 80  # how many broken files of each sort
# What readers take for a size or a count, at its ends and where signs change.
NUMBERS = tuple(value.to_bytes(4, "big") for value in (0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFE, 0xFFFFFFFF))
# What text readers stumble over.
SCRAPS = (b"\x00", b"\xff", b'"', b"[" * 40, b"{" * 40, b"1e999", b"NaN", b"9" * 400, b"\xe2\x80\xae", b"\r", b",")


@dataclass(frozen=True)
class Named:
    """A file that is not written yet."""

    name: str
    data: bytes


Breakage = Callable[[bytes, np.random.Generator], bytes]


def broken(sound: Sequence[Named], count: int, seed: int) -> Iterator[Named]:
    """So many broken files in all, each of one sound file in turn, broken in one to three ways."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        file = sound[number % len(sound)]
        ways = TEXT_WAYS if _is_text(file.data) else BINARY_WAYS
        data, said = file.data, []
        for _ in range(rng.integers(1, 4)):
            way = ways[rng.integers(len(ways))]
            data = way(data, rng)
            said.append(way.__name__.strip("_"))
        yield Named(f"{'-'.join(said)}-{file.name}", data)


def _is_text(data: bytes) -> bool:
    return b"\x00" not in data[:4096]


def _cut(data: bytes, rng: np.random.Generator) -> bytes:
    return data[: int(rng.integers(len(data) + 1))]


def _beheaded(data: bytes, rng: np.random.Generator) -> bytes:
    return data[int(rng.integers(min(len(data), 64) + 1)) :]


def _bits(data: bytes, rng: np.random.Generator, reach: int | None = None) -> bytes:
    turned = bytearray(data)
    for place in rng.integers(max(min(len(data), reach or len(data)), 1), size=int(rng.integers(1, 30))):
        if place < len(turned):
            turned[place] ^= 1 << int(rng.integers(8))
    return bytes(turned)


def _head_bits(data: bytes, rng: np.random.Generator) -> bytes:
    return _bits(data, rng, 600)


def _tail_bits(data: bytes, rng: np.random.Generator) -> bytes:
    """An MP4's index stands at its end."""
    at = max(len(data) - 3000, 0)
    return data[:at] + _bits(data[at:], rng)


def _zeros(data: bytes, rng: np.random.Generator) -> bytes:
    start, length = _stretch(data, rng)
    return data[:start] + bytes(length) + data[start + length :]


def _lost(data: bytes, rng: np.random.Generator) -> bytes:
    start, length = _stretch(data, rng)
    return data[:start] + data[start + length :]


def _doubled(data: bytes, rng: np.random.Generator) -> bytes:
    start, length = _stretch(data, rng)
    return data[: start + length] + data[start:]


def _exchanged(data: bytes, rng: np.random.Generator) -> bytes:
    half, length = len(data) // 2, int(rng.integers(1, max(len(data) // 4, 2)))
    a, b = int(rng.integers(max(half - length, 1))), half + int(rng.integers(max(half - length, 1)))
    return data[:a] + data[b : b + length] + data[a + length : b] + data[a : a + length] + data[b + length :]


def _number(data: bytes, rng: np.random.Generator) -> bytes:
    """A size or a count that lies, most often where an index is."""
    reach = (0, len(data)) if rng.random() < 0.3 else (max(len(data) - 3000, 0), len(data))
    at = int(rng.integers(*reach)) // 4 * 4 if len(data) > 4 else 0
    return data[:at] + NUMBERS[rng.integers(len(NUMBERS))] + data[at + 4 :]


def _box(data: bytes, rng: np.random.Generator) -> bytes:
    """The size before a name of four letters, as MP4 and AVI write them; any number where there is none."""
    names = (b"moov", b"trak", b"stsz", b"stts", b"stco", b"ctts", b"avcC", b"hvcC", b"elst", b"mdat", b"idx1", b"strh")
    at = [place for name in names if (place := data.find(name)) >= 4]
    if not at:
        return _number(data, rng)
    place = at[rng.integers(len(at))] + int(rng.choice([-4, 4, 8, 12]))
    return data[:place] + NUMBERS[rng.integers(len(NUMBERS))] + data[place + 4 :]


def _scrap(data: bytes, rng: np.random.Generator) -> bytes:
    at = int(rng.integers(len(data) + 1))
    return data[:at] + SCRAPS[rng.integers(len(SCRAPS))] + data[at:]


def _another_value(data: bytes, rng: np.random.Generator) -> bytes:
    """One value behind a colon, a comma or an equals sign becomes one of another kind."""
    signs = [place for place, byte in enumerate(data) if byte in b":=,"]
    if not signs:
        return _scrap(data, rng)
    start = signs[rng.integers(len(signs))] + 1
    stop = next((place for place in range(start + 1, len(data)) if data[place] in b",]}\n"), len(data))
    values = (b"null", b"true", b"-1", b"1e308", b"[]", b"{}", b'"word"', b"[[1,2],[3]]", b"12345678901234567890123")
    return data[:start] + b" " + values[rng.integers(len(values))] + data[stop:]


def _stretch(data: bytes, rng: np.random.Generator) -> tuple[int, int]:
    start = int(rng.integers(len(data) + 1))
    return start, int(rng.integers(0, max(min(len(data) - start, 2000), 1)))


BINARY_WAYS: tuple[Breakage, ...] = (
    _cut, _beheaded, _bits, _head_bits, _tail_bits, _zeros, _lost, _doubled, _exchanged, _number, _box, _box,
)  # fmt: skip
TEXT_WAYS: tuple[Breakage, ...] = (
    _cut, _bits, _zeros, _lost, _doubled, _exchanged, _scrap, _scrap, _another_value, _another_value, _another_value,
)  # fmt: skip
