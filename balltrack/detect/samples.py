"""A clip's pictures, spread over its time: from them the empty field is learnt without decoding twice."""

from collections.abc import Sequence

import numpy as np

from balltrack.video.frames import Frame
from balltrack.video.shelf import Shelf, Stretch

SPACING_S = 0.08  # a ball passes a pixel in less, a batter's pose changes in more
MOST_BYTES = 200_000_000  # about 65 frames at 1080p; a longer clip is sampled more thinly
WANTED_SHARE = 0.7  # of these are for the stretches that are named


class Samples:
    """Keeps frames at even spacing, in bounded memory. Give it every frame, in order.

    Where they do not all fit, those outside the stretches that were named as wanted are thinned out first.
    """

    def __init__(self, wanted_s: Sequence[tuple[float, float]] = (), whole_bytes: int = 0) -> None:
        """``wanted_s``: from when to when frames are needed most [clip time, s]; ``whole_bytes``: memory for
        frames as they are."""
        self._wanted = tuple(wanted_s)
        self._kept = Shelf(whole_bytes)
        self._frame_bytes = 0
        self._gap_s = {True: SPACING_S, False: SPACING_S}  # by whether the frame is wanted

    def add(self, frame: Frame) -> None:
        """Keep the frame if the last one kept lies far enough back."""
        if not len(self._kept):
            self._plan(frame.size_bytes)
        elif frame.time_s - self._kept.last_s < self._gap_s[self._is_wanted(frame.time_s)]:
            return
        self._kept.add(frame)
        while len(self._kept) * self._frame_bytes > MOST_BYTES and len(self._kept) > 1:
            self._thin_out()

    def rest(self) -> None:
        """Hold no memory but that of the frames: there are no more."""
        self._kept.rest()

    def between(self, start_s: float, stop_s: float) -> list[Frame]:
        """The frames kept from a stretch of the clip."""
        return list(self.one_by_one(start_s, stop_s))

    def one_by_one(self, start_s: float, stop_s: float) -> Stretch:
        """The same, to be gone through several times without holding them all."""
        return self._kept.between(start_s, float(np.nextafter(stop_s, np.inf)))

    def spread(self, most: int) -> list[Frame]:
        """At most so many of the frames kept, evenly spread over the clip."""
        times_s = self._kept.times_s
        if len(times_s) <= most:
            return list(self._kept.between(-np.inf, np.inf))
        wished_s = np.linspace(times_s[0], times_s[-1], most)
        nearest = np.unique(np.argmin(np.abs(times_s[:, None] - wished_s), axis=0))
        return list(self._kept.those_at(times_s[nearest].tolist()))

    def _plan(self, frame_bytes: int) -> None:
        """Space the frames of the wanted stretches so that they fit."""
        self._frame_bytes = frame_bytes
        length_s = sum(stop_s - start_s for start_s, stop_s in self._wanted)
        self._gap_s[True] = max(SPACING_S, length_s * frame_bytes / (WANTED_SHARE * MOST_BYTES))

    def _is_wanted(self, time_s: float) -> bool:
        return any(start_s <= time_s <= stop_s for start_s, stop_s in self._wanted)

    def _thin_out(self) -> None:
        """Leave out every second frame of those that are not wanted, or, where there are hardly any, of all."""
        times_s = self._kept.times_s.tolist()
        others = [time_s for time_s in times_s if not self._is_wanted(time_s)]
        only_others = len(others) > 1
        left_out = (others if only_others else times_s)[1::2]
        self._kept.leave_out(left_out)
        for wanted in (False,) if only_others else (False, True):
            self._gap_s[wanted] *= 2
