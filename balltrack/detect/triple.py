"""Each frame with its neighbours in time, streamed, and the parts of them that the network is shown."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Bytes
from balltrack.detect.network import NEIGHBOUR_S, neighbours
from balltrack.units import Floats
from balltrack.video.frames import Frame

SIDE_PX = 128  # of a part of the picture that the network is shown: as it was trained
KEPT_S = 2.5 * NEIGHBOUR_S


@dataclass(frozen=True, slots=True, eq=False)
class Triple:
    """A frame, and those nearest to ``NEIGHBOUR_S`` before and after it; at the ends the frame itself."""

    before: Frame
    now: Frame
    after: Frame

    @property
    def planes(self) -> tuple[Bytes, Bytes, Bytes]:
        """Luma (h, w) of each."""
        return self.before.luma, self.now.luma, self.after.luma


def corner_around(middle_px: Floats, size: tuple[int, ...]) -> NDArray[np.intp]:
    """(2,) u, v of the top-left pixel of the part around a place, in a picture of (h, w)."""
    last = [max(size[1] - SIDE_PX, 0), max(size[0] - SIDE_PX, 0)]
    return np.clip(np.rint(middle_px - SIDE_PX / 2), 0, last).astype(np.intp)


def part_of(planes: tuple[Bytes, Bytes, Bytes], corner: NDArray[np.intp]) -> Bytes:
    """(3, side, side) of three frames; beyond the edge of a small picture its rim goes on."""
    u, v = corner.tolist()
    part = np.stack([plane[v : v + SIDE_PX, u : u + SIDE_PX] for plane in planes])
    down, right = SIDE_PX - part.shape[1], SIDE_PX - part.shape[2]
    return np.pad(part, ((0, 0), (0, down), (0, right)), mode="edge") if down or right else part


def triples(frames: Iterable[Frame]) -> Iterator[Triple]:
    """Give every frame, in order, as soon as its neighbours are known; keeps a few frames at 240 a second."""
    kept: list[Frame] = []
    next_one = 0
    for frame in frames:
        kept.append(frame)
        while next_one < len(kept) - 1 and frame.time_s - kept[next_one].time_s > NEIGHBOUR_S:
            yield _triple(kept, next_one)
            next_one += 1
        # One frame before the next is kept however far back it lies.
        while next_one > 1 and kept[next_one].time_s - kept[0].time_s > KEPT_S:
            kept.pop(0)
            next_one -= 1
    for k in range(next_one, len(kept)):
        yield _triple(kept, k)


def _triple(kept: list[Frame], index: int) -> Triple:
    before, after = neighbours([frame.time_s for frame in kept], index)
    return Triple(kept[before], kept[index], kept[after])
