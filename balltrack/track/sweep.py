"""How a lit ball that moves while the shutter is open spreads over the pixels, worked out among spatial frequencies.

There the motion, the lens and the cell are factors, a shift by part of a cell is a phase, and the edge of the disc is
exact: no sampling to be paid for in time or in jumps of the centre. `spectra` holds the loops.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len

from balltrack.track.spectra import SLOPES, TERMS, Parts, add_slopes, add_terms, disc_table
from balltrack.units import Floats

SHORTEST_STREAK_PX = 0.4
MARGIN_CELLS = 2  # beyond the picture, for what leaves it at one side comes back at the other
Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Sweep:
    """A disc that moves evenly while the shutter is open, on a grid of square cells, behind a lens."""

    centre: tuple[float, float]  # u, v at mid-exposure; the centre of a cell is a whole number [cells]
    radius: float  # [cells]
    streak: float  # length of the motion [cells]
    turn: float  # its direction from u towards v [rad]
    blur: float  # sigma of the lens [cells]

    @property
    def vector(self) -> Floats:
        """(6,) the same in order."""
        return np.array([*self.centre, self.radius, self.streak, self.turn, self.blur])


@dataclass(frozen=True, slots=True)
class Sampling:
    """What a sample of a picture is the mean of."""

    step: int = 1  # cells from one sample to the next, along rows and columns; 1 or 2
    shift: tuple[float, float] = (0.0, 0.0)  # of the first sample from the first cell's centre, u and v [cells]


CELL = Sampling()


class Canvas:
    """A grid of cells to sweep balls over, and the frequencies of its spectra.

    ``finer`` spectra reach to twice what the cells can show, for its edges fold back: without it a picture lacks that.
    Pictures reach a few cells beyond the grid, to the right and below.
    """

    def __init__(self, size: tuple[int, int], finer: bool = True) -> None:
        self.size = size
        tall, wide = (side + MARGIN_CELLS for side in size)
        # Of colours only every second cell may be shown, and of a row's frequencies half are held.
        self.padded = 2 * next_fast_len(-(-tall // 2)), 4 * next_fast_len(-(-wide // 4), real=True)
        reach = 2 if finer else 1
        tall, wide = (side * reach for side in self.padded)
        self._ku: Floats = np.arange(wide // 2 + 1, dtype=np.float64) * (2 * np.pi / self.padded[1])
        self._kv: Floats = np.asarray(np.fft.fftfreq(tall) * (2 * np.pi * reach), dtype=np.float64)

    def terms(self, sweep: Sweep, colours: Sampling) -> tuple[Image, Image]:
        """Pictures of the cover and of the shade terms upon it, x along the motion and y beside it.

        (h, w, 9) as brightness shows them, and (h', w', 9) as colours do.
        """
        luma, colour = self._blank(TERMS, CELL), self._blank(TERMS, colours)
        add_terms(self._ku, self._kv, disc_table(), sweep.vector, _both(colours), luma, colour)
        return self._pictures(luma), self._pictures(colour)

    def slopes(self, sweep: Sweep, light: Image, colours: Sampling) -> tuple[Image, Image]:
        """Slopes of pictures of given light (9, 4): three channels, and the cover's.

        With u, v [cells], the logarithms of width and of streak, the turn, and the logarithm of the blur: (h, w, 6 x 2)
        of brightness and cover, (h', w', 6 x 3) of colours and cover.
        """
        luma, colour = self._blank(2 * SLOPES, CELL), self._blank(3 * SLOPES, colours)
        add_slopes(self._ku, self._kv, disc_table(), sweep.vector, _both(colours), light, luma, colour)
        return self._pictures(luma), self._pictures(colour)

    def _blank(self, count: int, sampling: Sampling) -> Parts:
        tall, wide = (side // sampling.step for side in self.padded)
        return np.zeros((tall, wide // 2 + 1, 2 * count), np.float32)

    def _pictures(self, parts: Parts) -> Image:
        spectra = parts.view(np.complex64)
        size = spectra.shape[0], 2 * spectra.shape[1] - 2
        return np.asarray(irfft2(spectra, s=size, axes=(0, 1), overwrite_x=True), dtype=np.float32)


@lru_cache(maxsize=64)
def canvas(size: tuple[int, int], finer: bool = True) -> Canvas:
    """A canvas (height, width), kept for the next frame: its frequencies stay."""
    return Canvas(size, finer)


def _both(colours: Sampling) -> Floats:
    """(2, 3) how brightness and colours are sampled."""
    return np.array([[CELL.step, *CELL.shift], [colours.step, *colours.shift]])
