"""Ball candidates of one frame: compact regions that differ from the empty field."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Regions of one frame, in no order. Sizes are those of a blurred disc with the region's second moments."""

    time_s: float  # the frame's timestamp (top row)
    centre_px: Floats  # (n, 2)
    width_px: Floats  # (n,) across the short axis: the ball's diameter, if it is the ball
    length_px: Floats  # (n,) along the long axis: diameter plus blur
    axis: Floats  # (n, 2) unit vector of the long axis
    colour: Floats  # (n, 3) luma, cb, cr of the region's core
    contrast: Floats  # (n,) peak difference from the empty field over the flicker limit there
    likeness: Floats  # (n,) how sure the network is of a ball in flight, 0 to 1; NaN where it has not looked

    def __len__(self) -> int:
        return len(self.width_px)

    def only(self, kept: NDArray[np.bool_]) -> "Candidates":
        """Those of (n,) ``kept``."""
        return Candidates(
            self.time_s,
            self.centre_px[kept],
            self.width_px[kept],
            self.length_px[kept],
            self.axis[kept],
            self.colour[kept],
            self.contrast[kept],
            self.likeness[kept],
        )

    def joined(self, other: "Candidates") -> "Candidates":
        """These, then those of another list of the same frame."""
        return Candidates(
            self.time_s,
            np.concatenate([self.centre_px, other.centre_px]),
            np.concatenate([self.width_px, other.width_px]),
            np.concatenate([self.length_px, other.length_px]),
            np.concatenate([self.axis, other.axis]),
            np.concatenate([self.colour, other.colour]),
            np.concatenate([self.contrast, other.contrast]),
            np.concatenate([self.likeness, other.likeness]),
        )


def no_candidates(time_s: float) -> Candidates:
    """Give a frame in which nothing differs."""
    one, two, three = np.zeros(0), np.zeros((0, 2)), np.zeros((0, 3))
    return Candidates(time_s, two, one, one, two, three, one, one)
