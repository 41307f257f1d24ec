"""What of a frame leaves the empty field, as runs of pixels along its rows: compiled, for hardly any pixel does.

Arrays are contiguous; planes that are only read are read-only, so that each kernel is compiled once.

A kernel calls and uses only what stands in its own file: what is kept of it from run to run is compiled anew when this
file changes.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled

Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]
Ints = NDArray[np.int64]

THICK_PX = 4  # as in `islands`
WORD = 8  # bytes of a mask that are looked at together: its rows are padded to a whole number of them
NONE, ALL, NO_WORD = np.uint8(0), np.uint8(255), np.uint64(0)


class Seen(NamedTuple):
    """One frame before the empty field; read-only."""

    luma: Bytes  # (h, w) as exposed as the empty field
    cb: Bytes  # (h / 2, w / 2), halves rounded up
    cr: Bytes
    empty_luma: Bytes
    empty_cb: Bytes
    empty_cr: Bytes
    luma_limit: Bytes  # (h, w) difference above which a pixel counts as changed
    chroma_limit: Bytes  # (h / 2, w / 2)


class Runs(NamedTuple):
    """Stretches of pixels that are meant, from left to right and row by row."""

    row: Ints  # (h + 1,) which run is the first of each row
    first: Ints  # (r,) its first column
    stop: Ints  # (r,) and one past its last


class Mask(NamedTuple):
    """Which pixels of a picture are meant."""

    bytes: Bytes  # (h, w) 0 or 255; beyond the picture's width are up to seven columns of which none is
    words: Words  # (h, w / 8) the same memory, so many at a time


def blank_mask(height: int, width: int) -> Mask:
    """A mask of a picture of this size in which nothing is meant yet."""
    plane = np.zeros((height, -(-width // WORD) * WORD), np.uint8)
    return Mask(plane, plane.view(np.uint64))


@compiled
def mark_changed(seen: Seen, mask: Mask) -> None:
    """Mark in a blank mask where brightness or colour leaves the flicker of the empty field."""
    height, width = seen.luma.shape
    coloured = np.empty(width + 1, np.uint8)
    for half in range(seen.cb.shape[0]):
        cb, cr, limit = seen.cb[half], seen.cr[half], seen.chroma_limit[half]
        empty_cb, empty_cr = seen.empty_cb[half], seen.empty_cr[half]
        for k in range(len(cb)):  # each sample of colour lies over two columns and two rows
            blue = np.uint8(max(cb[k], empty_cb[k]) - min(cb[k], empty_cb[k]))
            red = np.uint8(max(cr[k], empty_cr[k]) - min(cr[k], empty_cr[k]))
            both = np.uint8(blue + red)
            both = ALL if both < blue else both
            coloured[2 * k] = coloured[2 * k + 1] = ALL if both > limit[k] else NONE
        for row in range(2 * half, min(2 * half + 2, height)):
            luma, empty, luma_limit, out = seen.luma[row], seen.empty_luma[row], seen.luma_limit[row], mask.bytes[row]
            for k in range(width):
                apart = np.uint8(max(luma[k], empty[k]) - min(luma[k], empty[k]))
                out[k] = coloured[k] | (ALL if apart > luma_limit[k] else NONE)


@compiled
def runs_of(mask: Mask) -> Runs:
    """The runs of a mask."""
    height, width = mask.bytes.shape
    row_of, most = np.empty(height + 1, np.int64), height * (width // 2)
    first, stop, count = np.empty(most, np.int64), np.empty(most, np.int64), 0
    for row in range(height):
        row_of[row], inside = count, False
        for k in range(mask.words.shape[1]):
            word = mask.words[row, k]
            if word == NO_WORD and not inside:
                continue
            for column in range(WORD * k, WORD * k + WORD):
                meant = mask.bytes[row, column] != NONE
                if meant and not inside:
                    first[count] = column
                elif inside and not meant:
                    stop[count] = column
                    count += 1
                inside = meant
        if inside:
            stop[count] = width
            count += 1
    row_of[height] = count
    return Runs(row_of, first[:count], stop[:count])


@compiled
def mark_thick(runs: Runs, mask: Mask) -> None:
    """Mark in a blank mask all blocks of ``THICK_PX`` by ``THICK_PX`` pixels that are meant."""
    height, width = mask.bytes.shape
    first, stop = np.empty((2, width), np.int64), np.empty((2, width), np.int64)
    for row in range(height - THICK_PX + 1):
        count = 1  # of the stretches of columns at which such a block may begin
        first[0, 0], stop[0, 0] = 0, width
        for below in range(THICK_PX):  # what they have in common with those of the next row
            old, new, made, k = below % 2, 1 - below % 2, 0, 0
            for i in range(runs.row[row + below], runs.row[row + below + 1]):
                begin, end = runs.first[i], runs.stop[i] - THICK_PX + 1
                while k < count and stop[old, k] <= begin:
                    k += 1
                j = k
                while j < count and first[old, j] < end and begin < end:
                    first[new, made], stop[new, made] = max(first[old, j], begin), min(stop[old, j], end)
                    made += 1
                    j += 1
            count = made
            if count == 0:
                break
        for i in range(count):  # of an even number of rows the last are where the first were
            for v in range(row, row + THICK_PX):
                for u in range(first[0, i], stop[0, i] + THICK_PX - 1):
                    mask.bytes[v, u] = ALL


@compiled
def _root(parent: Ints, k: int) -> int:
    while parent[k] != k:
        parent[k] = parent[parent[k]]
        k = parent[k]
    return k


@compiled
def _join(parent: Ints, k: int, other: int) -> None:
    one, two = _root(parent, k), _root(parent, other)
    parent[max(one, two)] = min(one, two)


@compiled
def islands(runs: Runs) -> Ints:
    """(r,) to which run each belongs: the first of all that hang together, corners included."""
    parent = np.empty(len(runs.first), np.int64)
    for row in range(len(runs.row) - 1):
        above, last = runs.row[max(row - 1, 0)], runs.row[row]
        for i in range(runs.row[row], runs.row[row + 1]):
            parent[i] = i
            while above < last and runs.stop[above] < runs.first[i]:
                above += 1
            j = above
            while j < last and runs.first[j] <= runs.stop[i]:
                _join(parent, i, j)
                j += 1
    for i in range(len(parent)):
        parent[i] = _root(parent, i)
    return parent


@compiled
def _open(runs: Runs, i: int, row: int) -> bool:
    """Whether the gap after a run has the end of a row, or beyond it, over or under itself."""
    if row < 0 or row == len(runs.row) - 1 or runs.row[row] == runs.row[row + 1]:
        return True
    return bool(runs.stop[i] < runs.first[runs.row[row]] or runs.first[i + 1] > runs.stop[runs.row[row + 1] - 1])


@compiled
def gaps(runs: Runs) -> Ints:
    """(r + 1,) for the gap after each run: one more than the number of the first of those that hang together; 0 where
    it is no gap, but part of what is around everything."""
    parent = np.empty(len(runs.first) + 1, np.int64)
    parent[:] = 0
    for row in range(len(runs.row) - 1):
        above, last = runs.row[max(row - 1, 0)], runs.row[row] - 1
        for i in range(runs.row[row], runs.row[row + 1] - 1):
            parent[i + 1] = i + 1
            if _open(runs, i, row - 1) or _open(runs, i, row + 1):
                _join(parent, i + 1, 0)
            while above < last and runs.first[above + 1] <= runs.stop[i]:
                above += 1
            j = above
            while j < last and runs.stop[j] < runs.first[i + 1]:
                _join(parent, i + 1, j + 1)
                j += 1
    for i in range(len(parent)):
        parent[i] = _root(parent, i)
    return parent


@compiled
def _has(runs: Runs, row: int, column: int) -> bool:
    found = False
    for i in range(runs.row[row], runs.row[row + 1]):
        found = found or runs.first[i] <= column < runs.stop[i]
    return found


@compiled
def _begin(runs: Runs, i: int, row: int) -> tuple[int, int]:
    """Row and column of the first pixel of the outline of a gap, which is first met after this run.

    That is the pixel before it, but where the outline passes that one from corner to corner: then the next.
    """
    before = runs.stop[i] - 1
    left, under, right = _has(runs, row + 1, before - 1), _has(runs, row + 1, before), _has(runs, row + 1, before + 1)
    return (row - 1, before + 1) if left and not under and not right else (row, before)


@compiled
def boxes(runs: Runs, island: Ints, gap: Ints) -> tuple[Ints, Ints]:
    """(n, 4) left, top, right, bottom of the islands, and of the gaps in them with the pixels around these; and (n, 4)
    row and column of the first pixel of each outline, and of where it is met when rows are gone through.

    ``island`` and ``gap`` are what `islands` and `gaps` give.
    """
    count, size = 0, len(runs.first)
    number = np.empty(2 * size, np.int64)
    number[:] = -1
    out, begins = np.empty((2 * size, 4), np.int64), np.empty((2 * size, 4), np.int64)
    for row in range(len(runs.row) - 1):
        for i in range(runs.row[row], runs.row[row + 1]):
            for around in range(2):  # the run, and the gap after it
                if around == 1 and gap[i + 1] == 0:
                    continue
                at = size + gap[i + 1] - 1 if around == 1 else island[i]
                left, right = runs.first[i], runs.stop[i]
                if around == 1:
                    left, right = runs.stop[i] - 1, runs.first[i + 1] + 1
                if number[at] < 0:
                    number[at] = count
                    out[count, 0], out[count, 1], out[count, 2] = left, row - around, right
                    begins[count, 0], begins[count, 1] = _begin(runs, i, row) if around == 1 else (row, left)
                    begins[count, 2], begins[count, 3] = row, left + around
                    count += 1
                k = number[at]
                out[k, 0], out[k, 2], out[k, 3] = min(out[k, 0], left), max(out[k, 2], right), row + 1 + around
    return out[:count], begins[:count]
