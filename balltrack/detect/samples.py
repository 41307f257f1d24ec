"""A clip's pictures, spread over its time: from them the empty field is learnt without decoding twice."""

from balltrack.video.frames import Frame

SPACING_S = 0.08  # a ball passes a pixel in less, a batter's pose changes in more
MOST_BYTES = 160_000_000  # about 50 frames at 1080p; a longer clip is sampled more thinly


class Samples:
    """Keeps frames at even spacing, in bounded memory. Give it every frame, in order."""

    def __init__(self) -> None:
        self._frames: list[Frame] = []
        self._spacing_s = SPACING_S
        self._bytes = 0

    def add(self, frame: Frame) -> None:
        """Keep the frame if the last one kept lies far enough back."""
        if self._frames and frame.time_s - self._frames[-1].time_s < self._spacing_s:
            return
        self._frames.append(frame)
        self._bytes += _size(frame)
        if self._bytes > MOST_BYTES:
            self._spacing_s *= 2
            self._frames = self._frames[::2]
            self._bytes = sum(_size(each) for each in self._frames)

    def between(self, start_s: float, stop_s: float) -> list[Frame]:
        """The frames kept from a stretch of the clip."""
        return [frame for frame in self._frames if start_s <= frame.time_s <= stop_s]

    def spread(self, most: int) -> list[Frame]:
        """At most so many of the frames kept, evenly spread over the clip."""
        step = max(1, -(-len(self._frames) // most))
        return self._frames[::step]


def _size(frame: Frame) -> int:
    return int(frame.luma.size + frame.cb.size + frame.cr.size)
