"""What lies in each region of a mask (0 or 255 a pixel), pixel by pixel: compiled.

Arrays are contiguous; planes that are only read are read-only, so that each kernel is compiled once.

A kernel calls and uses only what stands in its own file: what is kept of it from run to run is compiled anew when this
file changes.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]

THICK_PX = 4  # a ball of under four pixels is described by the plain mask
CORE_FIFTHS = 3  # of a region's pixels, in fifths, differ less than its core
CODES = 256
# Columns of what `sums` tells of each region: its box's corner; the sums over its pixels of 1, u, v, uu, vv and uv from
# that corner on; the same of these times the difference from the empty field; the largest difference; difference and
# limit where the one is most over the other; of its core the number of pixels, and the sums of luma, cb and cr.
LEFT, TOP, N, S, PEAK, OVER, LIMIT, CORE, LUMA, CB, CR, COLUMNS = 0, 1, 2, 8, 14, 15, 16, 17, 18, 19, 20, 21


class Planes(NamedTuple):
    """What the regions of one frame are described by; read-only."""

    luma: Bytes  # (h, w) as exposed as the empty field
    empty: Bytes  # (h, w) the empty field's
    limit: Bytes  # (h, w) difference above which a pixel counts as changed
    shown: Bytes  # (h, w) luma as the frame has it
    cb: Bytes  # (h / 2, w / 2), halves rounded up
    cr: Bytes


@compiled
def _is_empty(mask: Bytes, left: int, top: int, width: int, height: int) -> bool:
    """Whether nothing of a mask lies in a box."""
    for row in range(top, top + height):
        for column in range(left, left + width):
            if mask[row, column] != 0:
                return False
    return True


@compiled
def _apart(planes: Planes, row: int, column: int) -> int:
    """By how much brightness differs from the empty field."""
    return int(abs(np.int64(planes.luma[row, column]) - np.int64(planes.empty[row, column])))


@compiled
def sums(planes: Planes, plain: Bytes, thick: Bytes, boxes: Ints, stout: NDArray[np.bool_], most: int) -> Ints:
    """(r, COLUMNS) of at most so many of the boxes (n, 4), the first.

    Where ``stout`` (n,) the box is of the thick mask; others are left out where some of the thick mask lies in them,
    which describes it better.
    """
    out, number = np.zeros((most, COLUMNS), np.int64), 0
    codes = np.zeros(CODES, np.int64)
    for k in range(len(boxes)):
        left, top, width, height = boxes[k, 0], boxes[k, 1], boxes[k, 2], boxes[k, 3]
        small = min(width, height) < THICK_PX
        if number == most or not (stout[k] or small or _is_empty(thick, left, top, width, height)):
            continue
        mask, told = thick if stout[k] else plain, out[number]
        number += 1
        told[LEFT], told[TOP], limit_there, over = left, top, 1, 0
        for v in range(height):
            row, count, u_sum, uu_sum, s_sum, su_sum, suu_sum = top + v, 0, 0, 0, 0, 0, 0
            for u in range(width):
                column = left + u
                if mask[row, column] != 0:
                    s = _apart(planes, row, column)
                    codes[s] += 1
                    count, u_sum, uu_sum = count + 1, u_sum + u, uu_sum + u * u
                    s_sum, su_sum, suu_sum = s_sum + s, su_sum + s * u, suu_sum + s * u * u
                    limit = int(np.int64(planes.limit[row, column]))
                    if s * limit_there > over * limit:
                        over, limit_there = s, limit
            for first, here, u_here, uu_here in ((N, count, u_sum, uu_sum), (S, s_sum, su_sum, suu_sum)):
                told[first] += here
                told[first + 1] += u_here
                told[first + 2] += v * here
                told[first + 3] += uu_here
                told[first + 4] += v * v * here
                told[first + 5] += v * u_here
        told[OVER], told[LIMIT] = over, limit_there
        weaker, core = (CORE_FIFTHS * (told[N] - 1) + 4) // 5, -1  # so many pixels are weaker than the core
        for s in range(CODES):
            if codes[s] > 0:
                told[PEAK] = s
            weaker -= codes[s]
            if weaker < 0 and core < 0:
                core = s
            codes[s] = 0
        for row in range(top, top + height):
            for column in range(left, left + width):
                s = _apart(planes, row, column)
                if s >= core and mask[row, column] != 0:
                    told[CORE] += 1
                    told[LUMA] += planes.shown[row, column]
                    told[CB] += planes.cb[row >> 1, column >> 1]
                    told[CR] += planes.cr[row >> 1, column >> 1]
    return out[:number]
