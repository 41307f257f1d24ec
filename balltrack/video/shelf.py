"""Frames kept without loss: the first as they are, the others in little memory, as what differs from the one before."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np

from balltrack.units import Floats
from balltrack.video.difference import GROUP_WORDS, Kinds, Words, differ, restore
from balltrack.video.frames import Frame
from balltrack.video.orientation import Bytes

PART_GROUPS = 8192  # 1 MB of a picture is looked at at a time

Shapes = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """One frame, as it differs from the one before it, and that from nothing: an empty picture."""

    index: int
    time_s: float
    words: Words
    kinds: Kinds

    @property
    def bytes(self) -> int:
        return self.words.nbytes + self.kinds.nbytes


@dataclass(slots=True, eq=False)
class _Work:
    """What it takes to put in one more frame: memory used again and again."""

    before: Words  # the last frame
    now: Words
    out: Words


class Shelf:
    """Frames of one clip, all of one size. Put them in, in order of time; go through them as often as wished.

    Pictures of a standing camera take a tenth to a third of their memory as what differs, and a third of the time of
    decoding.
    """

    def __init__(self, whole_bytes: int = 0) -> None:
        """``whole_bytes``: memory for frames as they are; those that find no room there are kept as what differs."""
        self._room_bytes = whole_bytes
        self._whole: list[Frame] = []
        self._kept: list[_Kept] = []
        self._shapes: Shapes = ()  # of luma, cb and cr
        self._work: _Work | None = None  # as long as frames are put in, and none is asked for
        self.bytes = 0  # that those take which are kept as what differs

    def __len__(self) -> int:
        return len(self._whole) + len(self._kept)

    @property
    def last_s(self) -> float:
        """Clip time of the last frame; -infinity where there is none."""
        if self._kept:
            return self._kept[-1].time_s
        return self._whole[-1].time_s if self._whole else -np.inf

    @property
    def times_s(self) -> Floats:
        """(n,) clip times of all frames."""
        return np.array([frame.time_s for frame in self._whole] + [each.time_s for each in self._kept])

    def add(self, frame: Frame) -> None:
        """Keep one more frame, later than all before."""
        planes = frame.luma, frame.cb, frame.cr
        if not self._kept and frame.size_bytes <= self._room_bytes:
            self._whole.append(frame)
            self._room_bytes -= frame.size_bytes
            return
        self._shapes = tuple(plane.shape for plane in planes)
        work = self._work = self._work or self._begun(frame.size_bytes)
        pixels, begin = work.now.view(np.uint8), 0
        for plane in planes:
            pixels[begin : begin + plane.size].reshape(plane.shape)[...] = plane
            begin += plane.size
        self._put(frame.index, frame.time_s, work)

    def _begun(self, pixels: int) -> _Work:
        """The last frame, and room for the next."""
        words = -(-pixels // (8 * GROUP_WORDS)) * GROUP_WORDS
        before, now = np.zeros(words, np.uint64), np.zeros(words, np.uint64)
        for each in self._kept:
            restore(each.words, each.kinds, before, before)
        return _Work(before, now, np.empty(PART_GROUPS * GROUP_WORDS, np.uint64))

    def _put(self, index: int, time_s: float, work: _Work) -> None:
        """Keep what was written into ``work.now``."""
        kinds = np.empty(len(work.now) // GROUP_WORDS, np.uint8)
        parts: list[Words] = []
        for first in range(0, len(kinds), PART_GROUPS):  # what differs could be as much as the whole picture
            told = kinds[first : first + PART_GROUPS]
            part = slice(first * GROUP_WORDS, (first + len(told)) * GROUP_WORDS)
            count = differ(work.now[part], work.before[part], told, work.out)
            parts.append(work.out[:count].copy())
        self._kept.append(_Kept(index, time_s, np.concatenate(parts), kinds))
        self.bytes += self._kept[-1].bytes
        work.now, work.before = work.before, work.now

    def rest(self) -> None:
        """Hold no memory but that of the frames, until one more is added."""
        self._work = None

    def leave_out(self, times_s: Collection[float]) -> None:
        """Keep the frames of given clip times no longer."""
        self._whole = [frame for frame in self._whole if frame.time_s not in times_s]
        if not self._kept:
            return
        old, self._kept, self.bytes = self._kept, [], 0
        work = self._work = self._begun(sum(shape[0] * shape[1] for shape in self._shapes))
        whole = np.zeros_like(work.now)
        while old:  # the new ones take their memory
            each = old.pop(0)
            restore(each.words, each.kinds, whole, whole)
            if each.time_s not in times_s:
                work.now[:] = whole
                self._put(each.index, each.time_s, work)

    def those_at(self, times_s: Collection[float]) -> Iterator[Frame]:
        """The frames of given clip times, one by one."""
        first_s, last_s = min(times_s), max(times_s)
        return (frame for frame in self.read(first_s, np.nextafter(last_s, np.inf)) if frame.time_s in times_s)

    def between(self, start_s: float, stop_s: float) -> "Stretch":
        """Those with ``start_s <= time_s < stop_s``, also of those that are yet to come."""
        return Stretch(self, start_s, stop_s)

    def read(self, start_s: float, stop_s: float) -> Iterator[Frame]:
        """Restore the frames with ``start_s <= time_s < stop_s``, one by one; meanwhile others may be added."""
        self.rest()  # who reads has mostly done with adding
        for frame in self._whole:
            if start_s <= frame.time_s < stop_s:
                yield frame
        whole, given = np.zeros(0, np.uint64), False
        k = 0
        while k < len(self._kept) and self._kept[k].time_s < stop_s:
            each = self._kept[k]
            if not k:
                whole = np.zeros(len(each.kinds) * GROUP_WORDS, np.uint64)
            fresh = np.empty_like(whole) if given else whole  # what was given away stays as it is
            restore(each.words, each.kinds, whole, fresh)
            whole, given = fresh, each.time_s >= start_s
            if given:
                yield Frame(each.index, each.time_s, *self._planes(whole))
            k += 1

    def _planes(self, whole: Words) -> tuple[Bytes, Bytes, Bytes]:
        pixels, begin = whole.view(np.uint8), 0
        planes: list[Bytes] = []
        for height, width in self._shapes:
            planes.append(pixels[begin : begin + height * width].reshape(height, width))
            planes[-1].flags.writeable = False  # the next frame is made from these very bytes
            begin += height * width
        luma, cb, cr = planes
        return luma, cb, cr


class Stretch:
    """The frames of a shelf with ``start_s <= time_s < stop_s``, to be gone through several times."""

    def __init__(self, shelf: Shelf, start_s: float, stop_s: float) -> None:
        self._shelf, self._start_s, self._stop_s = shelf, start_s, stop_s

    @property
    def bytes(self) -> int:
        """Memory that the shelf takes."""
        return self._shelf.bytes

    @property
    def last_s(self) -> float:
        """Clip time of the last frame so far; -infinity where there is none."""
        times_s = self._shelf.times_s
        inside = times_s[(times_s >= self._start_s) & (times_s < self._stop_s)]
        return float(inside[-1]) if len(inside) else -np.inf

    def __iter__(self) -> Iterator[Frame]:
        return self._shelf.read(self._start_s, self._stop_s)
