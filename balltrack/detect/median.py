"""The median over time of many 8-bit planes, by a sorting network: the same few steps for every pixel, no branches.

Numpy's own partition of a stack of frames takes as long as decoding some twenty of them.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

STRIP_BYTES = 1_500_000  # so much is worked on at a time: less costs calls, more does not stay in a core's cache


def median_plane(planes: Sequence[Bytes]) -> Bytes:
    """(h, w) median over time of at least one plane; of an even number, the upper of the middle two."""
    median = np.empty(planes[0].shape, np.uint8)
    for rows, strip in _strips(planes):
        median[rows] = _middle(strip)
    return median


def median_and_deviation(planes: Sequence[Bytes]) -> tuple[Bytes, Bytes]:
    """(h, w) median over time, and (h, w) median absolute deviation from it; medians as in ``median_plane``."""
    median, deviation = np.empty(planes[0].shape, np.uint8), np.empty(planes[0].shape, np.uint8)
    for rows, strip in _strips(planes):
        middle = median[rows] = _middle(strip)
        deviation[rows] = _middle([_difference(plane, middle) for plane in strip])
    return median, deviation


def _strips(planes: Sequence[Bytes]) -> Iterator[tuple[slice, list[Bytes]]]:
    """Rows of a strip, and the part of each plane that lies in them."""
    height, width = planes[0].shape
    step = max(1, STRIP_BYTES // (len(planes) * width))
    for top in range(0, height, step):
        rows = slice(top, top + step)
        yield rows, [plane[rows] for plane in planes]


def _middle(planes: Sequence[Bytes]) -> Bytes:
    """The median of planes that fit into the cache together; they are not changed."""
    places = list(planes)
    for low, high, keep_low, keep_high in _network(len(planes)):
        one, other = places[low], places[high]
        if keep_low:
            places[low] = np.asarray(cv2.min(one, other), np.uint8)
        if keep_high:
            places[high] = np.asarray(cv2.max(one, other), np.uint8)
    return places[len(planes) // 2]


def _difference(one: Bytes, other: Bytes) -> Bytes:
    return np.asarray(cv2.absdiff(one, other), np.uint8)


@lru_cache
def _network(count: int) -> tuple[tuple[int, int, bool, bool], ...]:
    """Steps that bring the median of ``count`` values to its place: two places, and which of the two results is needed.

    Batcher's merge exchange sorts (Knuth, The Art of Computer Programming, vol. 3, 5.2.2, algorithm M); what does not
    reach the middle is left out.
    """
    needed = {count // 2}
    kept: list[tuple[int, int, bool, bool]] = []
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
