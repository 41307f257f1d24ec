"""How a lit ball that moves while the shutter is open spreads over the pixels."""

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats

SHORTEST_STREAK_PX = 0.4
LARGEST_FINE_PX = 160  # patches up to this size are averaged over 2 x 2 points a pixel


def swept_disc(size: tuple[int, int], shape: Floats, direction: Floats) -> NDArray[np.float32]:
    """Averages over the exposure, pixel by pixel, of a moving disc and of smooth shade upon it.

    Parameters
    ----------
    size : (height, width) of the patch
    shape : (4,) array
        Centre u, v in the patch at mid-exposure [px], log diameter, log streak length.
    direction : (2,) array
        Unit vector of the motion.

    Returns
    -------
    (6, height, width) array
        The share of the exposure for which the disc covers the pixel; then the same weighted with the place on the
        ball, in radii: along the motion x, beside it y, x² - 1/4, x y, y² - 1/4. A matt sphere in sun and skylight is
        as bright as a linear function of its normal (Lambert), which these span but for its night side.

    Notes
    -----
    At distance b beside the path a disc of radius r covers a chord of half-length h = sqrt(r² - b²) while its centre
    runs from -s/2 to s/2: the share is the overlap of [a - h, a + h] with that run, over s; the weights are the
    moments of a minus the run's place over the overlap. Lens blur is not in it.
    """
    fine = 2 if max(size) < LARGEST_FINE_PX else 1
    height, width = size
    u = (np.arange(width * fine, dtype=np.float32) + 0.5) / fine - 0.5 - np.float32(shape[0])
    v = (np.arange(height * fine, dtype=np.float32) + 0.5) / fine - 0.5 - np.float32(shape[1])
    du, dv = np.float32(direction[0]), np.float32(direction[1])
    along = u[None] * du + v[:, None] * dv
    radius, half_run = np.float32(0.5 * np.exp(shape[2])), np.float32(0.5 * np.exp(shape[3]))
    beside = (v[:, None] * du - u[None] * dv) / radius
    chord = radius * np.sqrt(np.maximum(1 - beside * beside, 0))
    low, high = np.maximum(along - chord, -half_run), np.minimum(along + chord, half_run)
    share = np.maximum(high - low, 0) / (2 * half_run)
    first, last = (along - high) / radius, (along - low) / radius
    mean = share * (first + last) / 2
    square = share * (first * first + first * last + last * last) / 3
    terms = np.stack(
        [share, mean, share * beside, square - share / 4, mean * beside, share * (beside * beside - np.float32(0.25))]
    )
    parts = [terms[:, row::fine, column::fine] for row in range(fine) for column in range(fine)]
    return np.asarray(sum(parts) / np.float32(fine * fine), dtype=np.float32)


def blurred(terms: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    """The same (k, h, w) terms through a lens that blurs by a Gaussian. [px]"""
    return np.stack([np.asarray(cv2.GaussianBlur(term, (0, 0), sigma_px), dtype=np.float32) for term in terms])
