"""What `arcs` works out for every arc and sighting, number by number: compiled, for thousands are bent at once.

Arrays are contiguous, of 64-bit numbers. A kernel calls and uses only what stands in its own file: what is kept of it
from run to run is compiled anew when this file changes.
"""

from typing import NamedTuple

import numpy as np

from balltrack.compiled import compiled
from balltrack.units import Floats

SIZE = 9
DEPTH_FLOOR_M = 0.05
DOUBTED_SQ = 16.0  # squared miss, in sd, at which a sighting counts half
# A guess that passes close to the lens makes entries so unlike in size that the inverse needs this much help.
RIDGE = 3e-15
# No step throws a guess further than the field is long: a bad start would fold behind the camera.
FURTHEST = 12.0


class Eye(NamedTuple):
    """A camera as far as it steers a step."""

    turn: Floats  # (3, 3) field to camera
    focal_px: float


class Course(NamedTuple):
    """Where arcs are at given times, and how that changes with time and lift."""

    elapsed_s: Floats  # (s, m)
    local_m: Floats  # (s, m, 3) in the camera frame
    velocity_mps: Floats  # (s, m, 3) field frame
    by_lift: Floats  # (s, m, 3, 2) [m] field frame


class Missed(NamedTuple):
    """Where arcs would be seen, and where something was seen: NaN where an arc has nothing."""

    centre_px: Floats  # (s, m, 2)
    width_px: Floats  # (s, m)
    seen_centre_px: Floats  # (s, m, 2)
    seen_width_px: Floats  # (s, m)
    centre_sd_px: Floats  # (s, m)
    width_sd_log: Floats  # (s, m)


class Known(NamedTuple):
    """What is known of an arc beforehand, and how far from it the first three numbers may go."""

    mean: Floats  # (9,)
    sd: Floats  # (9,)
    reach: float  # standard deviations


@compiled
def _slopes(out: Floats, course: Course, k: int, m: int, eye: Eye) -> None:
    """Write how u, v and log width of one arc at one time change with its numbers, (3, 9).

    Distortion is left out and drag taken to first order: it only steers steps.
    """
    turn, local, velocity, by_lift = eye.turn, course.local_m, course.velocity_mps, course.by_lift
    depth = max(local[k, m, 2], DEPTH_FLOOR_M)
    pull = eye.focal_px / depth
    for j in range(3):
        out[0, j] = pull * turn[0, j] - pull * local[k, m, 0] / depth * turn[2, j]
        out[1, j] = pull * turn[1, j] - pull * local[k, m, 1] / depth * turn[2, j]
        out[2, j] = -1.0 / depth * turn[2, j]
    for i in range(3):
        out[i, 6] = out[i, 7] = out[i, 8] = 0.0
        for j in range(3):
            out[i, 3 + j] = out[i, j] * course.elapsed_s[k, m]
            out[i, 6] -= out[i, j] * velocity[k, m, j]
            out[i, 7] += out[i, j] * by_lift[k, m, j, 0]
            out[i, 8] += out[i, j] * by_lift[k, m, j, 1]


@compiled
def _invert(matrix: Floats, lower: Floats, least: float) -> None:
    """Invert a symmetric, positive (9, 9) matrix in place, by Cholesky; ``lower`` is room for its root."""
    for i in range(SIZE):
        for j in range(i + 1):
            total = matrix[i, j]
            for n in range(j):
                total -= lower[i, n] * lower[j, n]
            lower[i, j] = np.sqrt(max(total, least)) if i == j else total / lower[j, j]
    for i in range(SIZE):  # the root, inverted in place
        lower[i, i] = 1.0 / lower[i, i]
        for j in range(i):
            total = 0.0
            for n in range(j, i):
                total -= lower[i, n] * lower[n, j]
            lower[i, j] = total * lower[i, i]
    for i in range(SIZE):
        for j in range(i + 1):
            total = 0.0
            for n in range(i, SIZE):
                total += lower[n, i] * lower[n, j]
            matrix[i, j] = matrix[j, i] = total


@compiled
def bent(arcs: Floats, course: Course, missed: Missed, known: Known, eye: Eye) -> tuple[Floats, Floats]:
    """One damped Gauss-Newton step of every arc: the arcs (s, 9) and their covariances (s, 9, 9)."""
    out, covariance = arcs.copy(), np.zeros((len(arcs), SIZE, SIZE))
    slopes, lower = np.zeros((3, SIZE)), np.zeros((SIZE, SIZE))
    off, weight, pull, step = np.zeros(3), np.zeros(3), np.zeros(SIZE), np.zeros(SIZE)
    for k in range(len(arcs)):
        normal = covariance[k]
        for i in range(SIZE):
            normal[i, i] = 1.0 / known.sd[i] ** 2
            pull[i] = (known.mean[i] - arcs[k, i]) * normal[i, i]
        for m in range(missed.width_px.shape[1]):
            seen = missed.seen_width_px[k, m]
            u, v, width = missed.centre_px[k, m, 0], missed.centre_px[k, m, 1], missed.width_px[k, m]
            if not (np.isfinite(seen) and np.isfinite(u) and np.isfinite(v)):
                continue
            _slopes(slopes, course, k, m, eye)
            off[0], off[1] = missed.seen_centre_px[k, m, 0] - u, missed.seen_centre_px[k, m, 1] - v
            off[2] = np.log(seen / width)
            weight[0] = weight[1] = 1.0 / missed.centre_sd_px[k, m] ** 2
            weight[2] = 1.0 / missed.width_sd_log[k, m] ** 2
            # Cauchy weight: one wrong region must not drag an arc away.
            far = off[0] ** 2 * weight[0] + off[1] ** 2 * weight[1] + off[2] ** 2 * weight[2]
            for r in range(3):
                by = weight[r] / (1.0 + far / DOUBTED_SQ)
                for i in range(SIZE):
                    pull[i] += by * slopes[r, i] * off[r]
                    for j in range(i + 1):
                        normal[i, j] += by * slopes[r, i] * slopes[r, j]
        trace = 0.0
        for i in range(SIZE):
            trace += normal[i, i]
        for i in range(SIZE):
            normal[i, i] += RIDGE * trace
        _invert(normal, lower, RIDGE * trace)
        longest = 1e-9
        for i in range(SIZE):
            step[i] = 0.0
            for j in range(SIZE):
                step[i] += normal[i, j] * pull[j]
            if i < 6:
                longest = max(longest, abs(step[i]))
        for i in range(SIZE):
            out[k, i] += min(1.0, FURTHEST / longest) * step[i]
        # Contact outside any batter's reach would be a bounce or a roll told as a flight.
        for i in range(3):
            room = known.reach * known.sd[i]
            out[k, i] = min(max(out[k, i], known.mean[i] - room), known.mean[i] + room)
    return out, covariance


@compiled
def spreads(course: Course, covariance: Floats, eye: Eye) -> Floats:
    """(s, m, 2, 2) covariance of each arc's centre [px²] from the arcs' own (s, 9, 9)."""
    count, times = course.elapsed_s.shape
    out, slopes, told = np.zeros((count, times, 2, 2)), np.zeros((3, SIZE)), np.zeros(SIZE)
    for k in range(count):
        for m in range(times):
            _slopes(slopes, course, k, m, eye)
            for r in range(2):
                for j in range(SIZE):
                    told[j] = 0.0
                    for i in range(SIZE):
                        told[j] += slopes[r, i] * covariance[k, i, j]
                for c in range(r, 2):
                    for j in range(SIZE):
                        out[k, m, r, c] += told[j] * slopes[c, j]
                    out[k, m, c, r] = out[k, m, r, c]
    return out
