"""A stretch of a clip that is looked at more than once."""

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np

from balltrack.video.clip import ClipInfo
from balltrack.video.frames import Frame, read_frames

MOST_BYTES = 270_000_000  # kept in memory: 1.4 s of 1080p at 60 frames a second
USEFUL_S = 0.85  # where not so much fits, nothing is kept: who comes again goes on further than that
# Frames that follow each other more closely err alike, and add next to nothing: every second one at 240 a second.
LEAST_GAP_S = 0.0065


def size_bytes(frame: Frame) -> int:
    """Memory that a frame takes."""
    return int(frame.luma.size + frame.cb.size + frame.cr.size)


class Head:
    """The first frames of some stretches of a clip, kept while the whole of it is gone through for another reason.

    Give it every frame, in order. Of stretches whose frames do not fit into memory together the last named is cut
    short, or left out with all after it where too little of it would remain.
    """

    def __init__(self, spans_s: Sequence[tuple[float, float]], frame_s: float, frame_bytes: int) -> None:
        """Keep the frames from the first to the second of each of ``spans_s``, the most wanted first. [clip time, s]"""
        self._spans: list[tuple[float, float]] = []
        step_s, free = kept_gap_s(frame_s), MOST_BYTES // frame_bytes
        for start_s, stop_s in spans_s:
            end_s = min(stop_s, start_s + (free - 2) * step_s)
            if end_s - start_s < min(USEFUL_S, stop_s - start_s):
                break
            free -= int((end_s - start_s) / step_s + 2)
            self._spans.append((start_s, end_s))
        self._frames: list[Frame] = []
        self.stop_s = -np.inf  # just after the last frame that was given

    def add(self, frame: Frame) -> None:
        """Keep the frame if it lies in one of the stretches."""
        self.stop_s = float(np.nextafter(frame.time_s, np.inf))
        if self._frames and frame.time_s - self._frames[-1].time_s < LEAST_GAP_S:
            return
        if any(start_s <= frame.time_s < stop_s for start_s, stop_s in self._spans):
            self._frames.append(frame)

    def since(self, start_s: float) -> list[Frame]:
        """The frames from ``start_s`` on, for as long as none is missing."""
        ends = [stop_s for begin_s, stop_s in self._spans if begin_s <= start_s < stop_s]
        if not ends:
            return []
        end_s = max(ends)
        for begin_s, stop_s in sorted(self._spans):
            if begin_s <= end_s < stop_s:
                end_s = stop_s
        return [frame for frame in self._frames if start_s <= frame.time_s < end_s]


def kept_gap_s(frame_s: float) -> float:
    """The time between two frames that are looked at, of a clip whose frames come every ``frame_s``."""
    return frame_s * max(1, math.ceil(LEAST_GAP_S / frame_s))


def _bytes_of(info: ClipInfo, length_s: float) -> float:
    """Memory that the frames of a stretch take, about."""
    frames = length_s / kept_gap_s(1 / (info.nominal_fps or 30.0))
    return 1.5 * info.size_px[0] * info.size_px[1] * frames


class Window:
    """The frames of a clip from ``start_s`` to ``stop_s``, LEAST_GAP_S apart, to be gone through several times.

    As many of the first as fit into memory are kept, or none where that is too few; those after them are decoded again
    each time, by whoever goes on so far. Raises VideoError when first gone through, if the clip cannot be read.
    """

    def __init__(
        self, info: ClipInfo, start_s: float, stop_s: float, threads: int = 1, head: Sequence[Frame] = ()
    ) -> None:
        """``head`` is what is at hand already: the first frames of the stretch, none left out."""
        self.start_s, self.stop_s = start_s, stop_s
        self._info, self._threads = info, threads
        self._kept = [frame for frame in head if start_s <= frame.time_s < stop_s]
        self._bytes = sum(size_bytes(frame) for frame in self._kept)
        # Whether no more are kept.
        self._full = _bytes_of(info, min(stop_s - start_s, USEFUL_S)) > MOST_BYTES and not self._kept
        self._complete = False  # all of them are kept

    @property
    def kept_until_s(self) -> float:
        """Clip time up to which frames are at hand without decoding."""
        return self.stop_s if self._complete else self._kept[-1].time_s if self._kept else -np.inf

    def __iter__(self) -> Iterator[Frame]:
        last_s = -np.inf
        for frame in self._kept:  # meanwhile another reading may add to them
            last_s = frame.time_s
            yield frame
        if not self._complete and np.nextafter(last_s, np.inf) < self.stop_s:
            yield from self._read(last_s)

    def _read(self, after_s: float) -> Iterator[Frame]:
        """Decode the frames after a time."""
        start_s = max(self.start_s, after_s)
        for frame in read_frames(self._info.path, start_s, self.stop_s, self._threads, self._info):
            if frame.time_s - after_s >= LEAST_GAP_S:
                after_s = frame.time_s
                self._keep(frame)
                yield frame
        if not self._full:
            self._complete = True

    def _keep(self, frame: Frame) -> None:
        if self._full or (self._kept and frame.time_s <= self._kept[-1].time_s):
            return  # another reading has kept it
        self._bytes += size_bytes(frame)
        if self._bytes > MOST_BYTES:
            self._full = True
        else:
            self._kept.append(frame)


class Until:
    """Some frames at hand, then those of a window up to a time: to be gone through several times, as the window is."""

    def __init__(self, earlier: Sequence[Frame], window: Window, until_s: float) -> None:
        self._earlier, self._window, self._until_s = earlier, window, until_s

    def __iter__(self) -> Iterator[Frame]:
        yield from self._earlier
        yield from itertools.takewhile(lambda frame: frame.time_s < self._until_s, self._window)
