"""How a lit ball that moves while the shutter is open spreads over the pixels, worked out among spatial frequencies.

There the motion, the lens and the cell are factors, a shift by part of a cell is a phase, and the edge of the disc is
exact: no sampling to be paid for in time or in jumps of the centre.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len
from scipy.special import jv, spherical_jn

SHORTEST_STREAK_PX = 0.4
MARGIN_CELLS = 6  # beyond the picture, for what leaves it at one side comes back at the other
FINEST = 64  # entries of the table of disc spectra per radian
LONGEST = 400.0  # frequency times radius up to which they are tabulated; beyond, next to nothing is left
Image = NDArray[np.float32]
Spectrum = NDArray[np.complex64]


@dataclass(frozen=True, slots=True)
class Sweep:
    """A disc that moves evenly while the shutter is open, on a grid of square cells, behind a lens."""

    centre: tuple[float, float]  # u, v at mid-exposure; the centre of a cell is a whole number [cells]
    radius: float  # [cells]
    streak: float  # length of the motion [cells]
    turn: float  # its direction from u towards v [rad]
    blur: float  # sigma of the lens [cells]


@dataclass(frozen=True, slots=True)
class Sampling:
    """What a sample of a picture is the mean of."""

    step: int = 1  # cells from one sample to the next, along rows and columns; 1 or 2
    shift: tuple[float, float] = (0.0, 0.0)  # of the first sample from the first cell's centre, u and v [cells]


class Canvas:
    """A grid of cells to sweep balls over, and the frequencies of its spectra.

    ``finer`` spectra reach to twice what the cells can show, for its edges fold back: without it a picture lacks that.
    """

    def __init__(self, size: tuple[int, int], finer: bool = True) -> None:
        self.size = size
        self._folds = 1 if finer else 0
        self._padded = tuple(4 * next_fast_len(-(-(side + MARGIN_CELLS) // 4), real=True) for side in size)
        tall, wide = (side * (1 + self._folds) for side in self._padded)
        self.ku = np.arange(wide // 2 + 1, dtype=np.float32)[None] * np.float32(2 * np.pi / self._padded[1])
        self.kv = (np.fft.fftfreq(tall)[:, None] * (2 * np.pi * (1 + self._folds))).astype(np.float32)
        self.k = np.hypot(self.ku, self.kv)
        self.inverse = 1 / np.maximum(self.k, np.float32(1e-6))
        self._cells = [
            np.sinc(self.ku * np.float32(step / (2 * np.pi))) * np.sinc(self.kv * np.float32(step / (2 * np.pi)))
            for step in (1, 2)
        ]

    def sampled(self, spectra: Spectrum, sampling: Sampling) -> Image:
        """(k, h / step, w / step) samples of the pictures whose spectra (k, ...) are given."""
        step, (u, v) = sampling.step, sampling.shift
        cell = self._cells[step - 1]
        folded = spectra * (cell * self.phase(u, v) if u or v else cell)
        for _ in range(self._folds + step - 1):
            folded = _folded(folded)
        height, width = self.size[0] // step, self.size[1] // step
        padded = self._padded[0] // step, self._padded[1] // step
        pictures = irfft2(folded, s=padded)[:, :height, :width] / np.float32(step * step)
        return np.asarray(pictures, dtype=np.float32)

    def phase(self, u: float, v: float) -> Spectrum:
        """Factor of spectra that moves the samples to the right and down. [cells]"""
        return np.asarray(np.exp(1j * self.ku * np.float32(u)) * np.exp(1j * self.kv * np.float32(v)))


@lru_cache(maxsize=64)
def canvas(size: tuple[int, int], finer: bool = True) -> Canvas:
    """A canvas (height, width), kept for the next frame: its frequencies stay."""
    return Canvas(size, finer)


class SweptLight:
    """Spectra of one swept ball on a canvas.

    Notes
    -----
    Term by term the spectrum of a disc of radius one is ``2 pi (-i)^m R(k)`` times ``cos m phi`` or ``sin m phi``:
    R = J1(k)/k of 1, J2(k)/k of x and y, J3(k)/k of x² - y² and, halved, of x y, J1(k)/k - 2 J2(k)/k² of x² + y²
    (Abramowitz & Stegun 11.3.20), j1(k)/k of z and j2(k)/k of x z and y z (Sonine's first integral, 11.4.10).
    """

    def __init__(self, sheet: Canvas, sweep: Sweep) -> None:
        self._canvas, self._sweep = sheet, sweep
        cos, sin = np.float32(np.cos(sweep.turn)), np.float32(np.sin(sweep.turn))
        self._along, self._beside = sheet.ku * cos + sheet.kv * sin, sheet.kv * cos - sheet.ku * sin
        lens = np.exp(np.float32(-0.5 * sweep.blur**2) * sheet.k**2)
        self._shown = lens * sheet.phase(-sweep.centre[0], -sweep.centre[1])
        self._run = np.sinc(self._along * np.float32(sweep.streak / (2 * np.pi)))

    def terms(self) -> Spectrum:
        """(9, ...) spectra of the cover and of the shade terms upon it, x along the motion and y beside it."""
        return np.asarray(self._discs(0) * (self._run * self._shown))

    def slopes(self, light: Image) -> Spectrum:
        """(6, c, ...) slopes of pictures of given light (c, 9).

        With u, v [cells], the logarithms of width and of streak, the turn, and the logarithm of the blur.
        """
        still, wider = (_mixed(light, self._discs(slope)) for slope in (0, 1))
        still, wider = still * self._shown, wider * (self._run * self._shown)
        sheet, half = self._canvas, np.float32(self._sweep.streak / 2)
        run = self._along * half
        longer = np.cos(run) - self._run
        with np.errstate(invalid="ignore", divide="ignore"):
            aside = np.where(np.abs(run) < 1e-3, -run / 3, longer / run) * self._beside * half
        moved, blur = still * self._run, np.float32(-(self._sweep.blur**2))
        parts = [moved * (-1j * sheet.ku), moved * (-1j * sheet.kv), wider, still * longer, still * aside]
        return np.asarray(np.stack([*parts, moved * (blur * sheet.k**2)]), dtype=np.complex64)

    def _discs(self, slope: int) -> Spectrum:
        """(9, ...) spectra of the still disc, or their slopes with the logarithm of its radius."""
        radius = np.float32(self._sweep.radius)
        k = self._canvas.k
        place = np.minimum(k * (radius * np.float32(FINEST)) + np.float32(0.5), LONGEST * FINEST).astype(np.int32)
        flat, tilt, twist, mean, rise, slant = np.moveaxis(_disc_spectra()[slope][place] * radius**2, -1, 0)
        x, y = self._along * self._canvas.inverse, self._beside * self._canvas.inverse
        out = np.zeros((9, *k.shape), dtype=np.complex64)
        real, imaginary = out.real, out.imag
        real[0], real[3], real[8] = flat, rise, mean
        real[6], real[7] = -twist * (x * y), -twist * (x * x - y * y)
        tilt, slant = -tilt, -slant
        imaginary[1], imaginary[2], imaginary[4], imaginary[5] = tilt * x, tilt * y, slant * x, slant * y
        return out


@lru_cache(maxsize=1)
def _disc_spectra() -> Image:
    """(2, n, 6) radial parts of the disc's spectra, and of their slopes with the logarithm of the radius."""
    k = np.arange(1, LONGEST * FINEST + 1) / FINEST
    one, two, three = (jv(order, k) / k for order in (1, 2, 3))
    high, slanted = (spherical_jn(order, k) / k for order in (1, 2))
    parts = 2 * np.pi * np.stack([one, two, three, one / 2 - 2 * two / k, high - one * 2 / 3, slanted], axis=1)
    at_zero = np.array([[np.pi, 0, 0, 0, 0, 0]])
    parts = np.concatenate([at_zero, parts])
    slopes = 2 * parts + np.concatenate([[0.0], k])[:, None] * np.gradient(parts, 1 / FINEST, axis=0)
    return np.asarray(np.stack([parts, slopes]), dtype=np.float32)


def _mixed(light: Image, spectra: Spectrum) -> Spectrum:
    """(c, ...) sums of spectra (9, ...) weighted with light (c, 9)."""
    real = light @ spectra.reshape(len(spectra), -1).view(np.float32)
    return np.asarray(real.view(np.complex64).reshape(len(light), *spectra.shape[1:]))


def _folded(spectra: Spectrum) -> Spectrum:
    """Spectra (k, h, w / 2 + 1) of every second sample of pictures whose spectra (k, 2 h, w + 1) are given."""
    tall, wide = spectra.shape[1] // 2, spectra.shape[2] - 1
    rows = spectra[:, :tall] + spectra[:, tall:]
    opposite = -np.arange(tall) % tall
    half = wide // 2
    return np.asarray(rows[:, :, : half + 1] + np.conj(rows[:, opposite, wide : half - 1 : -1]))
