"""A stretch of a clip that is looked at more than once."""

import itertools
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from balltrack.video.clip import ClipInfo
from balltrack.video.frames import Frame, read_frames
from balltrack.video.shelf import Shelf, Stretch

MOST_BYTES = 100_000_000  # kept in memory: 1.1 s of 4K at 60 frames a second where little changes
# Frames that are kept as they are cost no time to keep or to read. Of large ones only a few would fit: then none is.
WHOLE_BYTES, FEWEST_WHOLE = 250_000_000, 64  # 1.3 s of 1080p at 60 frames a second
# Frames that follow each other more closely err alike, and add next to nothing: every second one at 240 a second.
LEAST_GAP_S = 0.0065


def room_for_whole_bytes(info: ClipInfo) -> int:
    """Memory for frames of a clip as they are."""
    width, height = info.size_px
    return WHOLE_BYTES if 1.5 * width * height * FEWEST_WHOLE <= WHOLE_BYTES else 0


class _Piece:
    """A stretch of a clip of which all frames are kept, until there is no more room."""

    def __init__(self, start_s: float, stop_s: float, whole_bytes: int) -> None:
        self.start_s, self.stop_s = start_s, stop_s
        self.shelf = Shelf(whole_bytes)
        self.cut_short = False

    def drop(self) -> None:
        """Keep nothing."""
        self.cut_short, self.shelf = True, Shelf()


class Head:
    """The frames of some stretches of a clip, kept while the whole of it is gone through for another reason.

    Give it every frame, in order. Where not all fit into memory together, the last named stretches are left out, or
    cut short.
    """

    def __init__(self, spans_s: Sequence[tuple[float, float]], whole_bytes: int = 0) -> None:
        """Keep the frames from the first to the second of each of ``spans_s``, the most wanted first. [clip time, s]

        ``whole_bytes``: memory for frames of the first as they are.
        """
        self._pieces = [_Piece(*span, 0 if k else whole_bytes) for k, span in enumerate(_apart(spans_s))]
        self._last_s = -np.inf
        self.stop_s = -np.inf  # just after the last frame that was given

    def add(self, frame: Frame) -> None:
        """Keep the frame if it lies in one of the stretches."""
        self.stop_s = float(np.nextafter(frame.time_s, np.inf))
        if frame.time_s - self._last_s < LEAST_GAP_S:
            return
        piece = next((each for each in self._pieces if each.start_s <= frame.time_s < each.stop_s), None)
        if piece and not piece.cut_short and self._has_room(piece):
            piece.shelf.add(frame)
            self._last_s = frame.time_s

    def rest(self) -> None:
        """Hold no memory but that of the frames: there are no more."""
        for piece in self._pieces:
            piece.shelf.rest()

    def _has_room(self, piece: _Piece) -> bool:
        """Whether there is room for one more frame of a piece, once less wanted ones are given up for it."""
        while sum(each.shelf.bytes for each in self._pieces) >= MOST_BYTES:
            least = next(each for each in reversed(self._pieces) if len(each.shelf) or each is piece)
            if least is piece:
                piece.cut_short = True
                return False
            least.drop()
        return True

    def since(self, start_s: float) -> list[Stretch]:
        """The frames from ``start_s`` on, for as long as none is missing."""
        found: list[Stretch] = []
        for piece in sorted(self._pieces, key=lambda each: each.start_s):
            if piece.start_s <= start_s < piece.stop_s:
                found.append(piece.shelf.between(start_s, piece.stop_s))
                if piece.cut_short:
                    break
                start_s = piece.stop_s
        return found


def _apart(spans_s: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The stretches in the order given, each without what lies in one before it."""
    apart: list[tuple[float, float]] = []
    for span in spans_s:
        rest = [span]
        for start_s, stop_s in apart:
            cut = [((begin_s, min(end_s, start_s)), (max(begin_s, stop_s), end_s)) for begin_s, end_s in rest]
            rest = [part for parts in cut for part in parts if part[0] < part[1]]
        apart += rest
    return apart


class Window:
    """The frames of a clip from ``start_s`` to ``stop_s``, LEAST_GAP_S apart, to be gone through several times.

    As many of the first as fit into memory are kept; those after them are decoded again each time, by whoever goes on
    so far. Raises VideoError when first gone through, if the clip cannot be read.
    """

    def __init__(
        self, info: ClipInfo, start_s: float, stop_s: float, threads: int = 1, head: Sequence[Stretch] = ()
    ) -> None:
        """``head`` is what is at hand already: the first frames of the stretch, none left out."""
        self.start_s, self.stop_s = start_s, stop_s
        self._info, self._threads = info, threads
        self._head = head
        self._head_until_s = max((each.last_s for each in head), default=-np.inf)
        self._kept = Shelf()  # of those after them
        self._room_bytes = MOST_BYTES - sum(each.bytes for each in head)
        self._full = self._complete = False  # no more of them, or all, are kept

    @property
    def kept_until_s(self) -> float:
        """Clip time up to which frames are at hand without decoding."""
        return self.stop_s if self._complete else max(self._head_until_s, self._kept.last_s)

    def __iter__(self) -> Iterator[Frame]:
        last_s = -np.inf
        for stretch in (*self._head, self._kept.between(self.start_s, self.stop_s)):
            for frame in stretch:  # meanwhile another reading may add to them
                if frame.time_s >= self.stop_s:
                    return
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
        if self._full or frame.time_s <= self._kept.last_s:
            return  # another reading has kept it
        if self._kept.bytes >= self._room_bytes:
            self._full = True
        else:
            self._kept.add(frame)


class After:
    """The frames of a window after a time, to be gone through several times."""

    def __init__(self, window: Window, after_s: float) -> None:
        self._window, self._after_s = window, after_s

    def __iter__(self) -> Iterator[Frame]:
        return (frame for frame in self._window if frame.time_s > self._after_s)


class Until:
    """Some frames at hand, then those of a window up to a time: to be gone through several times, as the window is."""

    def __init__(self, earlier: Iterable[Frame], window: Window, until_s: float) -> None:
        self._earlier, self._window, self._until_s = earlier, window, until_s

    def __iter__(self) -> Iterator[Frame]:
        yield from self._earlier
        yield from itertools.takewhile(lambda frame: frame.time_s < self._until_s, self._window)
