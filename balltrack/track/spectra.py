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
        Frequencies of columns, from zero on, and of rows. [rad per cell]
    table : (2, k, 6) array
        From `disc_table`.
    sweep : (6,) array
        u, v, radius, streak [cells], turn [rad], blur [cells].
    samplings : (2, 3) array
        Of brightness and of colours: cells from sample to sample, and the first one's shift in u and v. [cells]
    luma, colour : (9, n', m', 2) arrays
        Zeros, real and imaginary, to which the spectra of the samples are added: folded as often as they are smaller,
        but no more than once, for beyond that next to nothing is left.
    """
    lens_u, lens_v = _common(ku, kv, sweep, samplings[0])
    own_u, own_v = _common(ku, kv, sweep, samplings[1])
    cos, sin, half = np.cos(sweep[4]), np.sin(sweep[4]), sweep[3] / 2
    real, imaginary = np.zeros((TERMS, len(ku)), np.float32), np.zeros((TERMS, len(ku)), np.float32)
    run, shared = np.empty(len(ku)), np.empty((2, len(ku)), np.float32)
    tall, wide = min(2 * colour.shape[1], len(kv)), min(2 * colour.shape[2] - 1, len(ku))
    for i in range(len(kv)):
        for j in range(len(ku)):
            along, beside = ku[j] * cos + kv[i] * sin, kv[i] * cos - ku[j] * sin
            _disc(table[0], along, beside, sweep[2], real, imaginary, j)
            run[j] = _quotient(along * half)
        _share(shared, run, lens_u, lens_v[i])
        _add_row(luma, i, shared, real, imaginary, len(ku))
        if i < tall // 2 or i >= len(kv) - tall // 2:
            _share(shared, run, own_u, own_v[i])
            _add_row(colour, i, shared, real, imaginary, wide)


@compiled
def add_slopes(
    ku: Floats, kv: Floats, table: Image, sweep: Floats, samplings: Floats, light: Floats, luma: Parts, colour: Parts
) -> None:
    """Add the spectra of slopes of pictures of given light, (4, 9): three channels, and the cover's.

    As `add_terms`; ``luma`` is (6 x 2, n', m', 2): of brightness and cover, ``colour`` (6 x 3, n', m', 2): of colours
    and cover.
    """
    lens_u, lens_v = _common(ku, kv, sweep, samplings[0])
    own_u, own_v = _common(ku, kv, sweep, samplings[1])
    cos, sin, half, blur = np.cos(sweep[4]), np.sin(sweep[4]), sweep[3] / 2, sweep[5]
    real, imaginary = np.zeros((TERMS, len(ku)), np.float32), np.zeros((TERMS, len(ku)), np.float32)
    still, wider = np.empty((4, 2, len(ku)), np.float32), np.empty((4, 2, len(ku)), np.float32)
    factors = np.empty((SLOPES, len(ku)), np.float32)
    shared, turned = np.empty((2, len(ku)), np.float32), np.empty((2, len(ku)), np.float32)
    for i in range(len(kv)):
        for which in range(2):
            for j in range(len(ku)):
                along, beside = ku[j] * cos + kv[i] * sin, kv[i] * cos - ku[j] * sin
                _disc(table[which], along, beside, sweep[2], real, imaginary, j)
            _mix(light, real, imaginary, wider if which else still)
        for j in range(len(ku)):
            along, beside = ku[j] * cos + kv[i] * sin, kv[i] * cos - ku[j] * sin
            phase = along * half
            run = _quotient(phase)
            longer = np.cos(phase) - run
            aside = -phase / 3 if abs(phase) < SMALLEST else longer / phase
            factors[0, j], factors[1, j], factors[2, j] = -ku[j] * run, -kv[i] * run, run
            factors[3, j], factors[4, j] = longer, aside * beside * half
            factors[5, j] = -blur * blur * (ku[j] * ku[j] + kv[i] * kv[i]) * run
        for c in range(4):
            if c == 0 or c == 3:
                _lay(shared, lens_u, lens_v[i], wider[c])
                _fold(luma[4 + c // 3], i, shared, factors[2], len(ku))
                _lay(shared, lens_u, lens_v[i], still[c])
                _turn(shared, turned)
                for p in (0, 1, 3, 4, 5):  # slopes with the place are a quarter turn ahead
                    _fold(luma[2 * p + c // 3], i, turned if p < 2 else shared, factors[p], len(ku))
            if c > 0:
                _lay(shared, own_u, own_v[i], wider[c])
                _fold(colour[5 + c], i, shared, factors[2], len(ku))
                _lay(shared, own_u, own_v[i], still[c])
                _turn(shared, turned)
                for p in (0, 1, 3, 4, 5):
                    _fold(colour[3 * p + c - 1], i, turned if p < 2 else shared, factors[p], len(ku))


@compiled
def _share(shared: Image, run: Floats, columns: Complex, row: complex) -> None:
    """What all terms of a row share: motion, lens, cell and place (2, m), real and imaginary."""
    for j in range(len(run)):
        both = columns[j] * row
        shared[0, j], shared[1, j] = run[j] * both.real, run[j] * both.imag


@compiled
def _lay(shared: Image, columns: Complex, row: complex, mixed: Image) -> None:
    """A row of a channel's spectrum (2, m) behind the lens, in its place."""
    for j in range(len(columns)):
        both = columns[j] * row
        shared[0, j] = both.real * mixed[0, j] - both.imag * mixed[1, j]
        shared[1, j] = both.real * mixed[1, j] + both.imag * mixed[0, j]


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
def _disc(table: Image, along: float, beside: float, radius: float, real: Image, imaginary: Image, j: int) -> None:
    """Spectra of the still disc at the frequency of column j: each of the nine terms is real or imaginary."""
    k = np.sqrt(along * along + beside * beside)
    place = int(min(k * radius * FINEST + 0.5, LONGEST * FINEST))
    area, inverse = radius * radius, 1.0 / max(k, 1e-6)
    x, y = along * inverse, beside * inverse
    tilt, twist, slant = -area * table[place, 1], -area * table[place, 2], -area * table[place, 5]
    real[0, j], real[3, j], real[8, j] = area * table[place, 0], area * table[place, 4], area * table[place, 3]
    real[6, j], real[7, j] = twist * (x * y), twist * (x * x - y * y)
    imaginary[1, j], imaginary[2, j], imaginary[4, j], imaginary[5, j] = tilt * x, tilt * y, slant * x, slant * y


@compiled
def _mix(light: Floats, real: Image, imaginary: Image, out: Image) -> None:
    """Sums of the terms (9, m), weighted with light (c, 9): real and imaginary parts (c, 2, m)."""
    for c in range(len(light)):
        for j in range(out.shape[2]):
            out[c, 0, j] = out[c, 1, j] = 0.0
        for k in range(TERMS):
            for j in range(out.shape[2]):
                out[c, 0, j] += light[c, k] * real[k, j]
                out[c, 1, j] += light[c, k] * imaginary[k, j]


@compiled
def _add_row(out: Parts, i: int, shared: Image, real: Image, imaginary: Image, wide: int) -> None:
    """Add the first frequencies of a row of terms, each real or imaginary but for what they share (2, m)."""
    turned = np.empty_like(shared)
    _turn(shared, turned)
    for k in range(TERMS):
        if k == 1 or k == 2 or k == 4 or k == 5:
            _fold(out[k], i, turned, imaginary[k], wide)
        else:
            _fold(out[k], i, shared, real[k], wide)


@compiled
def _turn(shared: Image, turned: Image) -> None:
    """Write what is a quarter turn ahead: i times as large."""
    for j in range(shared.shape[1]):
        turned[0, j], turned[1, j] = -shared[1, j], shared[0, j]


@compiled
def _fold(out: Parts, i: int, shared: Image, part: Image, wide: int) -> None:
    """Add a row of a spectrum, a product, to that of every so manieth sample: frequencies fold onto each other.

    Of a real picture's spectrum only half is held: the other half is its mirror image.
    """
    rows, half, last = out.shape[0], out.shape[1] - 1, wide - 1
    if half == last:
        for j in range(last + 1):
            out[i, j, 0] += shared[0, j] * part[j]
            out[i, j, 1] += shared[1, j] * part[j]
        return
    there, opposite = out[i % rows], out[-i % rows]
    for start in range(0, last, 2 * half):  # up to the next multiple of all frequencies that samples can show
        middle = start + half
        for j in range(half + 1):
            there[j, 0] += shared[0, start + j] * part[start + j]
            there[j, 1] += shared[1, start + j] * part[start + j]
        for j in range(half + 1):
            opposite[half - j, 0] += shared[0, middle + j] * part[middle + j]
            opposite[half - j, 1] -= shared[1, middle + j] * part[middle + j]
