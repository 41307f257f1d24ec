"""A picture as what differs from the one before it, without loss: a still camera's pictures hardly change.

Bytes are taken eight at a time, as one number of 64 bits (Warren, Hacker's Delight, 2nd ed., section 2-18: adding and
subtracting in the parts of a word). A decoder copies what does not change, so that a good part differs by nothing at
all, and most of the rest by little.
"""

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled

Words = NDArray[np.uint64]
Kinds = NDArray[np.uint8]

BLOCK = 4  # words: 32 neighbouring pixels are stored alike
GROUP = 4  # blocks, of which one byte tells how each is stored
GROUP_WORDS = BLOCK * GROUP  # a picture is a whole number of groups

_LOW, _TOP = np.uint64(0x7F7F7F7F7F7F7F7F), np.uint64(0x8080808080808080)
# A difference of -2 to 1 takes 2 bits, one of -8 to 7 takes 4: stored as what it is above the least.
_LEAST_2, _LEAST_4 = np.uint64(0x0202020202020202), np.uint64(0x0808080808080808)
_BITS_2, _BITS_4 = np.uint64(0x0303030303030303), np.uint64(0x0F0F0F0F0F0F0F0F)
_NONE, _TWO, _FOUR, _SIX = np.uint64(0), np.uint64(2), np.uint64(4), np.uint64(6)
_SAME, _IN_2, _IN_4, _WHOLE = 0, 1, 2, 3  # how a block is stored


@compiled
def _above(now: np.uint64, before: np.uint64, least: np.uint64) -> np.uint64:
    """How far each byte's difference is above the least, modulo 256."""
    less = ((now | _TOP) - (before & _LOW)) ^ ((now ^ ~before) & _TOP)
    return np.uint64(((less & _LOW) + least) ^ (less & _TOP))


@compiled
def _back(before: np.uint64, above: np.uint64, least: np.uint64) -> np.uint64:
    """The inverse of `_above`."""
    more = ((before & _LOW) + above) ^ (before & _TOP)
    return np.uint64(((more | _TOP) - least) ^ ((more ^ ~least) & _TOP))


@compiled
def differ(now: Words, before: Words, kinds: Kinds, out: Words) -> int:
    """Write what differs into ``out``, as long as ``now``, and the kind of each block into ``kinds``.

    Returns how many words of ``out`` were written.
    """
    place = 0
    for group in range(len(kinds)):
        told = 0
        for block in range(GROUP):
            i = BLOCK * (GROUP * group + block)
            n0, n1, n2, n3 = now[i], now[i + 1], now[i + 2], now[i + 3]
            b0, b1, b2, b3 = before[i], before[i + 1], before[i + 2], before[i + 3]
            if (n0 ^ b0) | (n1 ^ b1) | (n2 ^ b2) | (n3 ^ b3) == _NONE:
                continue
            d0, d1 = _above(n0, b0, _LEAST_2), _above(n1, b1, _LEAST_2)
            d2, d3 = _above(n2, b2, _LEAST_2), _above(n3, b3, _LEAST_2)
            if (d0 | d1 | d2 | d3) & ~_BITS_2 == _NONE:
                out[place] = d0 | (d1 << _TWO) | (d2 << _FOUR) | (d3 << _SIX)
                place += 1
                told |= _IN_2 << 2 * block
                continue
            d0, d1 = _above(n0, b0, _LEAST_4), _above(n1, b1, _LEAST_4)
            d2, d3 = _above(n2, b2, _LEAST_4), _above(n3, b3, _LEAST_4)
            if (d0 | d1 | d2 | d3) & ~_BITS_4 == _NONE:
                out[place], out[place + 1] = d0 | (d1 << _FOUR), d2 | (d3 << _FOUR)
                place += 2
                told |= _IN_4 << 2 * block
                continue
            out[place], out[place + 1], out[place + 2], out[place + 3] = n0, n1, n2, n3
            place += 4
            told |= _WHOLE << 2 * block
        kinds[group] = told
    return place


@compiled
def restore(stored: Words, kinds: Kinds, before: Words, now: Words) -> None:
    """Write into ``now`` the picture of which ``stored`` and ``kinds`` tell how it differs from ``before``.

    The two may be the same array.
    """
    place = 0
    for group in range(len(kinds)):
        told = int(kinds[group])
        for block in range(GROUP):
            i = BLOCK * (GROUP * group + block)
            kind = (told >> 2 * block) & 3
            b0, b1, b2, b3 = before[i], before[i + 1], before[i + 2], before[i + 3]
            if kind == _SAME:
                n0, n1, n2, n3 = b0, b1, b2, b3
            elif kind == _IN_2:
                all_4 = stored[place]
                place += 1
                n0 = _back(b0, all_4 & _BITS_2, _LEAST_2)
                n1 = _back(b1, (all_4 >> _TWO) & _BITS_2, _LEAST_2)
                n2 = _back(b2, (all_4 >> _FOUR) & _BITS_2, _LEAST_2)
                n3 = _back(b3, (all_4 >> _SIX) & _BITS_2, _LEAST_2)
            elif kind == _IN_4:
                first, second = stored[place], stored[place + 1]
                place += 2
                n0, n1 = _back(b0, first & _BITS_4, _LEAST_4), _back(b1, (first >> _FOUR) & _BITS_4, _LEAST_4)
                n2, n3 = _back(b2, second & _BITS_4, _LEAST_4), _back(b3, (second >> _FOUR) & _BITS_4, _LEAST_4)
            else:
                n0, n1, n2, n3 = stored[place], stored[place + 1], stored[place + 2], stored[place + 3]
                place += 4
            now[i], now[i + 1], now[i + 2], now[i + 3] = n0, n1, n2, n3
