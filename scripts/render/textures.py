"""Noise that repeats, sampled at any place and scale, fading out where it is finer than a pixel."""

import cv2
import numpy as np

from .arrays import Image

SIDE = 1024


def tile(seed: int, blur: float = 1.0) -> Image:
    """A (1024, 1024) periodic noise of mean 0 and standard deviation 1, smooth over ``blur`` samples."""
    rng = np.random.default_rng([seed, 77])
    spectrum = np.fft.rfft2(rng.standard_normal((SIDE, SIDE)))
    fy, fx = np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None]
    spectrum *= np.exp(-2.0 * (np.pi * blur) ** 2 * (fx**2 + fy**2))
    field = np.fft.irfft2(spectrum, s=(SIDE, SIDE))
    return np.ascontiguousarray((field - field.mean()) / field.std(), dtype=np.float32)


def sample(noise: Image, x: Image, y: Image) -> Image:
    """The noise at sample coordinates of any size, wrapped, bilinear."""
    shape, count = x.shape, x.size
    if count == 0:
        return np.zeros(shape, np.float32)
    rows = -(-count // SIDE)  # remap takes at most 32767 columns
    where = np.zeros((2, rows * SIDE), np.float32)
    where[0, :count], where[1, :count] = np.mod(x, SIDE).ravel(), np.mod(y, SIDE).ravel()
    grid = where.reshape(2, rows, SIDE)
    out = cv2.remap(noise, grid[0], grid[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    return np.asarray(out.ravel()[:count].reshape(shape), np.float32)


def layered(noise: Image, x: Image, y: Image, footprint: Image, waves: tuple[float, ...], power: float = 0.5) -> Image:
    """Sum of the noise at several wavelengths [m]; each fades where a pixel's ``footprint`` [m] is too coarse."""
    total = np.zeros_like(x)
    for index, wave in enumerate(waves):
        keep = np.clip(wave / (2.0 * footprint) - 0.35, 0.0, 1.0)
        weight = (wave / waves[0]) ** power
        # Two noise samples make a wave; the offset keeps layers from lining up.
        total += keep * weight * sample(noise, x * (2.5 / wave) + 173.1 * index, y * (2.5 / wave) + 91.7 * index)
    return total
