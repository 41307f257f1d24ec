"""Frames kept as what differs from the one before: every pixel comes back."""

import numpy as np
import pytest

from balltrack.video.difference import GROUP_WORDS, differ, restore
from balltrack.video.frames import Frame
from balltrack.video.shelf import Shelf


def film(count: int, size: tuple[int, int], seed: int = 1) -> list[Frame]:
    """Frames of noise that mostly stays, in which something passes."""
    rng = np.random.default_rng(seed)
    height, width = size
    half = (height + 1) // 2, (width + 1) // 2
    luma = rng.integers(0, 256, size, dtype=np.uint8)
    cb, cr = (rng.integers(0, 256, half, dtype=np.uint8) for _ in range(2))
    frames = []
    for k in range(count):
        luma = luma.copy()
        luma[: height // 2] += rng.integers(-3, 4, (height // 2, width)).astype(np.uint8)  # beyond 255 it begins anew
        luma[4:10, 3 * k : 3 * k + 6] = 255
        frames.append(Frame(k, 0.04 * k, luma, cb, cr))
    return frames


def same(one: list[Frame], other: list[Frame]) -> bool:
    return [(frame.index, frame.time_s) for frame in one] == [(frame.index, frame.time_s) for frame in other] and all(
        np.array_equal(mine, yours)
        for a, b in zip(one, other, strict=True)
        for mine, yours in ((a.luma, b.luma), (a.cb, b.cb), (a.cr, b.cr))
    )


@pytest.mark.parametrize("size", [(48, 64), (35, 51)])
@pytest.mark.parametrize("whole", [0, 5, 12])
def test_every_pixel_of_every_frame_comes_back_as_often_as_wished(size: tuple[int, int], whole: int) -> None:
    """However many of them found room as they are."""
    frames = film(12, size)
    shelf = Shelf(whole * sum(plane.size for plane in (frames[0].luma, frames[0].cb, frames[0].cr)))
    for frame in frames:
        shelf.add(frame)
    for _ in range(2):
        assert same(list(shelf.read(-np.inf, np.inf)), frames)
    assert same(list(shelf.between(0.16, 0.4)), frames[4:10])
    assert same(list(shelf.those_at([0.08, 0.04 * 7])), [frames[2], frames[7]])


@pytest.mark.parametrize("largest", [0, 1, 2, 7, 8, 9, 127, 255])
def test_a_difference_of_any_size_is_restored(largest: int) -> None:
    rng = np.random.default_rng(largest)
    before = rng.integers(0, 256, 64 * 8 * GROUP_WORDS, dtype=np.uint8)
    off = rng.integers(-largest, largest + 1, len(before)) * (rng.random(len(before)) < 0.1)
    now = (before + off).astype(np.uint8)  # beyond 255 it begins anew, as differences do
    kinds, out = np.empty(64, np.uint8), np.empty(64 * GROUP_WORDS, np.uint64)
    count = differ(now.view(np.uint64), before.view(np.uint64), kinds, out)
    again = before.copy()
    restore(out[:count], kinds, again.view(np.uint64), again.view(np.uint64))
    assert np.array_equal(again, now)
    assert (count == 0) == (largest == 0)


def test_what_hardly_changes_takes_little_memory() -> None:
    frames, shelf = film(20, (120, 160)), Shelf()
    for frame in frames:
        shelf.add(frame)
    # The upper half of luma changes by -3 to 3: 4 of 8 bits, and a byte tells the kinds of 128 pixels. The first frame
    # is kept whole, and what passes takes a few blocks.
    pixels = 120 * 160 * 3 // 2
    assert shelf.bytes < pixels * (1 + 19 * (1 / 3 * 1 / 2 + 1 / 128)) * 1.2


def test_frames_given_out_stay_as_they_are_and_cannot_be_written_to() -> None:
    frames, shelf = film(5, (48, 64)), Shelf()
    for frame in frames:
        shelf.add(frame)
    reading = shelf.read(-np.inf, np.inf)
    first = next(reading)
    rest = list(reading)
    assert same([first, *rest], frames)
    with pytest.raises(ValueError, match="read-only"):
        first.luma[0, 0] = 0


def test_frames_may_be_added_while_others_are_read_and_after() -> None:
    frames, shelf = film(8, (48, 64)), Shelf()
    for frame in frames[:3]:
        shelf.add(frame)
    read = []
    for frame in shelf.between(-np.inf, np.inf):
        read.append(frame)
        if frame.index == 2:
            for later in frames[3:6]:
                shelf.add(later)
    assert same(read, frames[:6])
    for frame in frames[6:]:
        shelf.add(frame)
    assert same(list(shelf.between(-np.inf, np.inf)), frames)


@pytest.mark.parametrize("room", [0, 20_000])
def test_frames_that_are_left_out_are_gone_and_the_others_whole(room: int) -> None:
    frames, shelf = film(9, (48, 64)), Shelf(room)  # of 4.6 kB each
    for frame in frames[:7]:
        shelf.add(frame)
    shelf.leave_out([frame.time_s for frame in frames[1:7:2]])
    for frame in frames[7:]:
        shelf.add(frame)
    assert same(list(shelf.between(-np.inf, np.inf)), [*frames[0:7:2], *frames[7:]])


def test_an_empty_shelf_gives_nothing() -> None:
    shelf = Shelf()
    shelf.leave_out([0.0])
    assert list(shelf.between(-np.inf, np.inf)) == []
    assert shelf.last_s == shelf.between(0.0, 1.0).last_s == -np.inf
