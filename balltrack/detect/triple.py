"""Each frame with its neighbours in time, streamed: what the network looks at."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from balltrack.detect.network import NEIGHBOUR_S, neighbours
from balltrack.video.frames import Frame

KEPT_S = 2.5 * NEIGHBOUR_S


@dataclass(frozen=True, slots=True, eq=False)
class Triple:
    """A frame, and those nearest to ``NEIGHBOUR_S`` before and after it; at the ends the frame itself."""

    before: Frame
    now: Frame
    after: Frame


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
