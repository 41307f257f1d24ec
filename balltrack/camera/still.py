"""A still picture of the field, in which marks are sought and drawn."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """A still picture, best the median of several frames: upright, in luma and chroma as a decoder gives them."""

    luma: Bytes  # (h, w)
    cb: Bytes  # (h / 2, w / 2) 128 is colourless
    cr: Bytes  # (h / 2, w / 2) 128 is colourless

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.luma.shape[1], self.luma.shape[0]
