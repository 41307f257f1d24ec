"""The spectra of a swept, lit disc and of their slopes, point by point among the frequencies, as compiled loops.

Term by term the spectrum of a disc of radius one is ``2 pi (-i)^m R(k)`` times ``cos m phi`` or ``sin m phi``:
R = J1(k)/k of 1, J2(k)/k of x and y, J3(k)/k of x² - y² and, halved, of x y, J1(k)/k - 2 J2(k)/k² of x² + y²
(Abramowitz & Stegun 11.3.20), j1(k)/k of z and j2(k)/k of x z and y z (Sonine's first integral, 11.4.10). So every term
is real or imaginary, but for what all of them share: lens, motion, cell and place.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.units import Floats

TERMS = 9  # of light, as in `explained`: a kernel uses only what stands in its own file, or it would go stale
SLOPES = 6  # with u, v, log width, log streak, turn, log blur
FINEST = 64  # entries of the table of disc spectra per radian
LONGEST = 400.0  # frequency times radius up to which they are tabulated; beyond, next to nothing is left
SMALLEST = 1e-3  # argument below which a quotient of two small numbers is taken from its series
FAINTEST = 0.03  # frequencies of which the lens leaves less than so much are left out: a disc has few of them anyway
Image = NDArray[np.float32]
Complex = NDArray[np.complex128]
Parts = NDArray[np.float32]


@lru_cache(maxsize=1)
def disc_table() -> Image:
    """(2, n, 6) radial parts of the disc's spectra, and of their slopes with the logarithm of the radius."""
    from scipy.special import jv, spherical_jn  # slow to import

    k = np.arange(1, LONGEST * FINEST + 1) / FINEST
    one, two, three = (jv(order, k) / k for order in (1, 2, 3))
    high, slanted = (spherical_jn(order, k) / k for order in (1, 2))
    parts = 2 * np.pi * np.stack([one, two, three, one / 2 - 2 * two / k, high - one * 2 / 3, slanted], axis=1)
    at_zero = np.array([[np.pi, 0, 0, 0, 0, 0]])
    parts = np.concatenate([at_zero, parts])
    slopes = 2 * parts + np.concatenate([[0.0], k])[:, None] * np.gradient(parts, 1 / FINEST, axis=0)
    return np.ascontiguousarray(np.stack([parts, slopes]), dtype=np.float32)


@compiled
def add_terms(
    ku: Floats, kv: Floats, table: Image, sweep: Floats, samplings: Floats, luma: Parts, colour: Parts
) -> None:
    """Add the spectra of the cover and of the shade terms upon it, x along the motion and y beside it.

    Parameters
    ----------
    ku, kv : (m,), (n,) arrays
        Frequencies of columns, evenly from zero on, and of rows. [rad per cell]
    table : (2, k, 6) array
        From `disc_table`.
    sweep : (6,) array
        u, v, radius, streak [cells], turn [rad], blur [cells].
    samplings : (2, 3) array
        Of brightness and of colours: cells from sample to sample, and the first one's shift in u and v. [cells]
    luma, colour : (n', m', 9 x 2) arrays
        Zeros, real and imaginary part of each term by turns, to which the spectra of the samples are added: folded as
        often as they are smaller, but no more than once, for beyond that next to nothing is left.
    """
    lens_u, lens_v = _common(ku, kv, sweep, samplings[0])
    own_u, own_v = _common(ku, kv, sweep, samplings[1])
    cos, sin = np.cos(sweep[4]), np.sin(sweep[4])
    still, shown = np.zeros(TERMS, np.float32), np.zeros(2 * TERMS, np.float32)
    tall, wide = min(2 * colour.shape[0], len(kv)), min(2 * colour.shape[1] - 1, len(ku))
    run = np.empty((2, len(ku)))
    for i in range(len(kv)):
        row, own_row = i % luma.shape[0], i % colour.shape[0]
        count = _passed(ku, kv[i], sweep[5])
        _moved(ku, kv[i], sweep, run[:, :count])
        coloured = min(count, wide) if i < tall // 2 or i >= len(kv) - tall // 2 else 0
        for j in range(count):
            _disc(table, 0, ku[j] * cos + kv[i] * sin, kv[i] * cos - ku[j] * sin, sweep[2], still)
            _show(still, run[0, j] * lens_u[j] * lens_v[i], shown)
            _fold(luma, row, -i % luma.shape[0], j, shown)
            if j < coloured:
                _show(still, run[0, j] * own_u[j] * own_v[i], shown)
                _fold(colour, own_row, -i % colour.shape[0], j, shown)


@compiled
def add_slopes(
    ku: Floats, kv: Floats, table: Image, sweep: Floats, samplings: Floats, light: Image, luma: Parts, colour: Parts
) -> None:
    """Add the spectra of slopes of pictures of given light, (9, 4): three channels, and the cover's.

    As `add_terms`; ``luma`` is (n', m', 6 x 2 x 2): of brightness and cover, ``colour`` (n', m', 6 x 3 x 2): of colours
    and cover.
    """
    lens_u, lens_v = _common(ku, kv, sweep, samplings[0])
    own_u, own_v = _common(ku, kv, sweep, samplings[1])
    cos, sin, half, blur = np.cos(sweep[4]), np.sin(sweep[4]), sweep[3] / 2, sweep[5]
    still, mixed = np.zeros(TERMS, np.float32), np.zeros((2, 2, 4), np.float32)
    factors, run = np.zeros(SLOPES, np.float32), np.empty((2, len(ku)))
    shown, coloured = np.zeros(4 * SLOPES, np.float32), np.zeros(6 * SLOPES, np.float32)
    for i in range(len(kv)):
        row, own_row = i % luma.shape[0], i % colour.shape[0]
        count = _passed(ku, kv[i], blur)
        _moved(ku, kv[i], sweep, run[:, :count])
        for j in range(count):
            along, beside = ku[j] * cos + kv[i] * sin, kv[i] * cos - ku[j] * sin
            for which in range(2):
                _disc(table, which, along, beside, sweep[2], still)
                _mix(light, still, mixed, which)
            phase, moved, longer = along * half, run[0, j], run[1, j]
            aside = -phase / 3 if abs(phase) < SMALLEST else longer / phase
            factors[0], factors[1], factors[2] = -ku[j] * moved, -kv[i] * moved, moved
            factors[3], factors[4] = longer, aside * beside * half
            factors[5] = -blur * blur * (ku[j] * ku[j] + kv[i] * kv[i]) * moved
            for c in range(4):
                if c == 0 or c == 3:
                    _slope(mixed, c, lens_u[j] * lens_v[i], factors, shown, c // 3)
                if c > 0:
                    _slope(mixed, c, own_u[j] * own_v[i], factors, coloured, c - 1)
            _fold(luma, row, -i % luma.shape[0], j, shown)
            _fold(colour, own_row, -i % colour.shape[0], j, coloured)


@compiled
def _passed(ku: Floats, kv: float, blur: float) -> int:
    """How many of a row's frequencies the lens lets pass."""
    least, count = -2.0 * np.log(FAINTEST), len(ku)
    while count > 0 and blur * blur * (ku[count - 1] * ku[count - 1] + kv * kv) > least:
        count -= 1
    return count


@compiled
def _moved(ku: Floats, kv: float, sweep: Floats, run: Floats) -> None:
    """Write what motion makes of a row (2, m): sin p / p of its phase p, and how that changes with p's logarithm."""
    half = sweep[3] / 2
    first, step = kv * np.sin(sweep[4]) * half, ku[1] * np.cos(sweep[4]) * half
    cos, sin, turn_cos, turn_sin = np.cos(first), np.sin(first), np.cos(step), np.sin(step)
    for j in range(run.shape[1]):  # frequencies follow each other evenly, so do phases
        phase = first + j * step
        run[0, j] = 1.0 if abs(phase) < 1e-6 else sin / phase
        run[1, j] = cos - run[0, j]
        cos, sin = cos * turn_cos - sin * turn_sin, sin * turn_cos + cos * turn_sin


@compiled
def _common(ku: Floats, kv: Floats, sweep: Floats, sampling: Floats) -> tuple[Complex, Complex]:
    """What lens, cell and place make of columns (m,) and of rows (n,)."""
    step, blur = sampling[0], sweep[5]
    columns, rows = np.empty(len(ku), np.complex128), np.empty(len(kv), np.complex128)
    for j in range(len(ku)):
        seen = np.exp(-0.5 * (blur * ku[j]) ** 2) * _quotient(ku[j] * step / 2) / step
        turn = ku[j] * (sampling[1] - sweep[0])
        columns[j] = complex(seen * np.cos(turn), seen * np.sin(turn))
    for i in range(len(kv)):
        seen = np.exp(-0.5 * (blur * kv[i]) ** 2) * _quotient(kv[i] * step / 2) / step
        turn = kv[i] * (sampling[2] - sweep[1])
        rows[i] = complex(seen * np.cos(turn), seen * np.sin(turn))
    return columns, rows


@compiled
def _quotient(x: float) -> float:
    """sin x / x"""
    return 1.0 if abs(x) < 1e-9 else np.sin(x) / x


@compiled
def _disc(table: Image, which: int, along: float, beside: float, radius: float, still: Image) -> None:
    """Write the spectra of the still disc at one frequency (9,): of terms 1, 2, 4 and 5 they are imaginary."""
    k = np.sqrt(along * along + beside * beside)
    place = int(min(k * radius * FINEST + 0.5, LONGEST * FINEST))
    area, inverse = radius * radius, 1.0 / max(k, 1e-6)
    x, y = along * inverse, beside * inverse
    tilt, twist, slant = -area * table[which, place, 1], -area * table[which, place, 2], -area * table[which, place, 5]
    still[0], still[3] = area * table[which, place, 0], area * table[which, place, 4]
    still[1], still[2], still[4], still[5] = tilt * x, tilt * y, slant * x, slant * y
    still[6], still[7], still[8] = twist * (x * y), twist * (x * x - y * y), area * table[which, place, 3]


@compiled
def _mix(light: Image, still: Image, out: Image, which: int) -> None:
    """Write sums of the terms (9,), weighted with light (9, c): the real and the imaginary part of one of two."""
    for c in range(4):
        out[which, 0, c] = light[0, c] * still[0] + light[3, c] * still[3] + light[8, c] * still[8]
        out[which, 0, c] += light[6, c] * still[6] + light[7, c] * still[7]
        out[which, 1, c] = light[1, c] * still[1] + light[2, c] * still[2]
        out[which, 1, c] += light[4, c] * still[4] + light[5, c] * still[5]


@compiled
def _show(still: Image, common: complex, shown: Image) -> None:
    """Write the terms as they are seen: times what all of them share."""
    real, imaginary = np.float32(common.real), np.float32(common.imag)
    for k in range(TERMS):
        if k == 1 or k == 2 or k == 4 or k == 5:
            shown[2 * k], shown[2 * k + 1] = -imaginary * still[k], real * still[k]
        else:
            shown[2 * k], shown[2 * k + 1] = real * still[k], imaginary * still[k]


@compiled
def _slope(mixed: Image, c: int, common: complex, factors: Image, shown: Image, place: int) -> None:
    """Write the slopes of a channel into its place among others: with u and v they are a quarter turn ahead.

    ``mixed`` (2, 2, 4): spectra, and their slopes with the logarithm of the radius; real and imaginary; of channels.
    """
    real, imaginary = np.float32(common.real), np.float32(common.imag)
    seen_real = real * mixed[0, 0, c] - imaginary * mixed[0, 1, c]
    seen_imaginary = real * mixed[0, 1, c] + imaginary * mixed[0, 0, c]
    step = len(shown) // SLOPES
    for p in range(SLOPES):
        at = step * p + 2 * place
        if p < 2:
            shown[at], shown[at + 1] = -factors[p] * seen_imaginary, factors[p] * seen_real
        elif p == 2:
            shown[at] = factors[p] * (real * mixed[1, 0, c] - imaginary * mixed[1, 1, c])
            shown[at + 1] = factors[p] * (real * mixed[1, 1, c] + imaginary * mixed[1, 0, c])
        else:
            shown[at], shown[at + 1] = factors[p] * seen_real, factors[p] * seen_imaginary


@compiled
def _fold(out: Parts, row: int, opposite: int, j: int, shown: Image) -> None:
    """Add a frequency of a spectrum (k,) to that of the samples, at its row and opposite it, where it folds.

    Of a real picture's spectrum only half is held: the other half is its mirror image.
    """
    half = out.shape[1] - 1
    if j <= half or j == 2 * half:
        column = j if j <= half else 0
        for k in range(len(shown)):
            out[row, column, k] += shown[k]
    if j >= half:
        for k in range(0, len(shown), 2):
            out[opposite, 2 * half - j, k] += shown[k]
            out[opposite, 2 * half - j, k + 1] -= shown[k + 1]
