"""Between the knots of a path: Hermite interpolation, compiled, for every look at a guess asks where it is.

Arrays are contiguous, of 64-bit numbers. Times are in steps since the first knot; before the first and after the last
the outermost piece goes on.
"""

import numpy as np

from balltrack.compiled import compiled
from balltrack.units import Floats


@compiled
def _knot(steps: float, last: int) -> int:
    """The knot before a time; of no number the first, which then gives no number."""
    if steps >= last:
        return last
    return int(steps) if steps > 0 else 0


@compiled
def finely(steps: Floats, position_m: Floats, velocity_mps: Floats, acceleration_mps2: Floats, step_s: float) -> Floats:
    """Positions (b, n, 3) [m] at (b, n) times from knots (b, k, 3): quintic."""
    count, times = steps.shape
    out = np.empty((count, times, 3))
    last = position_m.shape[1] - 2
    for b in range(count):
        for n in range(times):
            k = _knot(steps[b, n], last)
            s = steps[b, n] - k
            for j in range(3):
                before = position_m[b, k, j]
                slope, slope_after = velocity_mps[b, k, j] * step_s, velocity_mps[b, k + 1, j] * step_s
                bend = acceleration_mps2[b, k, j] * step_s**2 / 2
                change = acceleration_mps2[b, k + 1, j] * step_s**2 / 2 - bend
                gap, turn = position_m[b, k + 1, j] - before - slope - bend, slope_after - slope - 2 * bend
                cubic = 10 * gap - 4 * turn + change
                quartic = -15 * gap + 7 * turn - 2 * change
                quintic = 6 * gap - 3 * turn + change
                out[b, n, j] = before + s * (slope + s * (bend + s * (cubic + s * (quartic + s * quintic))))
    return out


@compiled
def coarsely(steps: Floats, position_m: Floats, velocity_mps: Floats, step_s: float) -> tuple[Floats, Floats]:
    """Positions [m] and velocities [m/s] (b, n, 3) at (b, n) times from knots (b, k, 3): cubic."""
    count, times = steps.shape
    place, speed = np.empty((count, times, 3)), np.empty((count, times, 3))
    last = position_m.shape[1] - 2
    for b in range(count):
        for n in range(times):
            k = _knot(steps[b, n], last)
            s = steps[b, n] - k
            for j in range(3):
                before = position_m[b, k, j]
                gap = position_m[b, k + 1, j] - before
                slope, after = velocity_mps[b, k, j] * step_s, velocity_mps[b, k + 1, j] * step_s
                square, cube = 3 * gap - 2 * slope - after, slope + after - 2 * gap
                place[b, n, j] = before + s * (slope + s * (square + s * cube))
                speed[b, n, j] = (slope + s * (2 * square + 3 * s * cube)) / step_s
    return place, speed
