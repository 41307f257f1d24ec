"""A stretch of a clip that is looked at more than once."""

from collections.abc import Iterator

from balltrack.video.clip import ClipInfo
from balltrack.video.frames import Frame, read_frames

MOST_BYTES = 450_000_000  # kept in memory; a longer or larger stretch is decoded again each time


class Window:
    """The frames of a clip from ``start_s`` to ``stop_s``, to be gone through several times.

    Raises VideoError when first gone through, if the clip cannot be read.
    """

    def __init__(self, info: ClipInfo, start_s: float, stop_s: float, threads: int = 1) -> None:
        self.start_s, self.stop_s = start_s, stop_s
        self._info, self._threads = info, threads
        self._kept: list[Frame] = []  # all of them, once gone through to the end
        self._complete = False

    def __iter__(self) -> Iterator[Frame]:
        return iter(self._kept) if self._complete else self._read()

    def _read(self) -> Iterator[Frame]:
        kept: list[Frame] | None = []
        size = 0
        for frame in read_frames(self._info.path, self.start_s, self.stop_s, self._threads, self._info):
            size += frame.luma.size + frame.cb.size + frame.cr.size
            if size > MOST_BYTES:
                kept = None
            if kept is not None:
                kept.append(frame)
            yield frame
        if kept is not None:
            self._kept, self._complete = kept, True
