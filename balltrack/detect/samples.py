"""A clip's pictures, spread over its time: from them the empty field is learnt without decoding twice."""

from collections.abc import Sequence

import numpy as np

from balltrack.video.frames import Frame

SPACING_S = 0.08  # a ball passes a pixel in less, a batter's pose changes in more
MOST_BYTES = 200_000_000  # about 65 frames at 1080p; a longer clip is sampled more thinly
WANTED_SHARE = 0.7  # of these are for the stretches that are named


class Samples:
    """Keeps frames at even spacing, in bounded memory. Give it every frame, in order.

    Where they do not all fit, those outside the stretches that were named as wanted are thinned out first.
    """

    def __init__(self, wanted_s: Sequence[tuple[float, float]] = ()) -> None:
        """``wanted_s``: from when to when frames are needed most. [clip time, s]"""
        self._wanted = tuple(wanted_s)
        self._frames: list[Frame] = []
        self._gap_s = {True: SPACING_S, False: SPACING_S}  # by whether the frame is wanted
        self._bytes = 0

    def add(self, frame: Frame) -> None:
        """Keep the frame if the last one kept lies far enough back."""
        if not self._frames:
            self._plan(_size(frame))
        elif frame.time_s - self._frames[-1].time_s < self._gap_s[self._is_wanted(frame)]:
            return
        self._frames.append(frame)
        self._bytes += _size(frame)
        while self._bytes > MOST_BYTES and len(self._frames) > 1:
            self._thin_out()

    def between(self, start_s: float, stop_s: float) -> list[Frame]:
        """The frames kept from a stretch of the clip."""
        return [frame for frame in self._frames if start_s <= frame.time_s <= stop_s]

    def spread(self, most: int) -> list[Frame]:
        """At most so many of the frames kept, evenly spread over the clip."""
        if len(self._frames) <= most:
            return list(self._frames)
        times_s = np.array([frame.time_s for frame in self._frames])
        wished_s = np.linspace(times_s[0], times_s[-1], most)
        nearest = np.unique(np.argmin(np.abs(times_s[:, None] - wished_s), axis=0))
        return [self._frames[k] for k in nearest.tolist()]

    def _plan(self, frame_bytes: int) -> None:
        """Space the frames of the wanted stretches so that they fit."""
        length_s = sum(stop_s - start_s for start_s, stop_s in self._wanted)
        self._gap_s[True] = max(SPACING_S, length_s * frame_bytes / (WANTED_SHARE * MOST_BYTES))

    def _is_wanted(self, frame: Frame) -> bool:
        return any(start_s <= frame.time_s <= stop_s for start_s, stop_s in self._wanted)

    def _thin_out(self) -> None:
        """Leave out every second frame of those that are not wanted, or, where there are hardly any, of all."""
        others = [frame for frame in self._frames if not self._is_wanted(frame)]
        only_others = len(others) > 1
        left_out = {frame.time_s for frame in (others if only_others else self._frames)[1::2]}
        self._frames = [frame for frame in self._frames if frame.time_s not in left_out]
        self._bytes = sum(_size(frame) for frame in self._frames)
        for wanted in (False,) if only_others else (False, True):
            self._gap_s[wanted] *= 2


def _size(frame: Frame) -> int:
    return int(frame.luma.size + frame.cb.size + frame.cr.size)
