"""The median over time of many 8-bit planes, by a sorting network: the same few steps for every pixel, no branches.

Numpy's own partition of a stack of frames takes as long as decoding some twenty of them.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

STRIP_BYTES = 3_000_000  # so much is worked on at a time: less costs calls, more does not stay in a core's cache

Step = tuple[int, int, bool, bool]
"""Two places whose values are put in order, and whether the lower and the higher of them are needed."""


def median_plane(planes: Sequence[Bytes]) -> Bytes:
    """(h, w) median over time of at least one plane; of an even number, the upper of the middle two."""
    median = np.empty(planes[0].shape, np.uint8)
    for rows, strip in _strips(planes):
        median[rows] = strip.ordered(_to_the_middle(len(planes)))[len(planes) // 2]
    return median


def median_and_deviation(planes: Sequence[Bytes]) -> tuple[Bytes, Bytes]:
    """(h, w) median over time, and (h, w) median absolute deviation from it; medians as in ``median_plane``."""
    median, deviation = np.empty(planes[0].shape, np.uint8), np.empty(planes[0].shape, np.uint8)
    every = tuple((low, high, True, True) for low, high in _merge_exchange(len(planes)))
    for rows, strip in _strips(planes):
        places = strip.ordered(every)
        middle = median[rows] = places[len(planes) // 2]
        deviation[rows] = _deviation(places, middle)
    return median, deviation


def _deviation(places: list[Bytes], middle: Bytes) -> Bytes:
    """The median absolute deviation of sorted values x from their median x[m].

    At least m + 1 of them lie from x[k] to x[m + k], whatever k: the deviation is the least distance that some such
    stretch keeps to.
    """
    half = len(places) // 2
    least = cv2.subtract(middle, places[0])
    for low, high in zip(places[1 : len(places) - half], places[half + 1 :], strict=True):
        furthest = cv2.max(cv2.subtract(middle, low), cv2.subtract(high, middle))
        cv2.min(least, furthest, dst=least)
    return np.asarray(least, np.uint8)


class _Strip:
    """The part of each plane that lies in some rows, and room to put them in order."""

    def __init__(self, parts: list[Bytes], room: list[Bytes]) -> None:
        self._parts, self._room = parts, [plane[: len(parts[0])] for plane in room]

    def ordered(self, steps: Sequence[Step]) -> list[Bytes]:
        """The values after these steps; what is given is overwritten by the next strip, the planes themselves never."""
        places, free = list(self._parts), list(self._room)
        owned = [False] * len(places)
        for low, high, keep_low, keep_high in steps:
            one, other = places[low], places[high]
            if keep_low and keep_high:
                places[low] = np.asarray(cv2.min(one, other, dst=free.pop()), np.uint8)
                places[high] = np.asarray(cv2.max(one, other, dst=other if owned[high] else free.pop()), np.uint8)
                free += [one] if owned[low] else []
                owned[low] = owned[high] = True
            elif keep_low:
                places[low] = np.asarray(cv2.min(one, other, dst=one if owned[low] else free.pop()), np.uint8)
                owned[low] = True
            else:
                places[high] = np.asarray(cv2.max(one, other, dst=other if owned[high] else free.pop()), np.uint8)
                owned[high] = True
        return places


def _strips(planes: Sequence[Bytes]) -> Iterator[tuple[slice, _Strip]]:
    """Rows of a strip, and what lies in them."""
    height, width = planes[0].shape
    step = max(1, STRIP_BYTES // (len(planes) * width))
    room = [np.empty((min(step, height), width), np.uint8) for _ in range(len(planes) + 1)]
    for top in range(0, height, step):
        rows = slice(top, top + step)
        yield rows, _Strip([plane[rows] for plane in planes], room)


@lru_cache
def _to_the_middle(count: int) -> tuple[Step, ...]:
    """Steps that bring the median of ``count`` values to its place.

    Batcher's merge exchange sorts (Knuth, The Art of Computer Programming, vol. 3, 5.2.2, algorithm M); what does not
    reach the middle is left out.
    """
    needed = {count // 2}
    kept: list[Step] = []
    for low, high in reversed(_merge_exchange(count)):
        if low in needed or high in needed:
            kept.append((low, high, low in needed, high in needed))
            needed |= {low, high}
    return tuple(reversed(kept))


def _merge_exchange(count: int) -> list[tuple[int, int]]:
    """Pairs of places to be put in order one after the other, so that ``count`` values end up sorted."""
    pairs: list[tuple[int, int]] = []
    highest = 1 << max(count - 1, 1).bit_length() - 1
    p = highest
    while p > 0:
        q, r, d = highest, 0, p
        while True:
            pairs += [(i, i + d) for i in range(count - d) if i & p == r]
            if q == p:
                break
            d, q, r = q - p, q // 2, p
        p //= 2
    return pairs
