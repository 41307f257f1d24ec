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
        self._kept: list[Frame] = []
        self._complete = self._too_large = False

    def __iter__(self) -> Iterator[Frame]:
        return iter(self._kept) if self._complete else self._read()

    def _read(self) -> Iterator[Frame]:
        self._kept.clear()
        size = 0
        for frame in read_frames(self._info.path, self.start_s, self.stop_s, self._threads, self._info):
            size += frame.luma.size + frame.cb.size + frame.cr.size
            if size > MOST_BYTES:
                self._too_large = True
                self._kept.clear()
            if not self._too_large:
                self._kept.append(frame)
            yield frame
        self._complete = not self._too_large
