"""Which instant of a swing each picture of its clip shows: usual speed, and slow around contact."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo
from balltrack.video.encode import Stretch
from balltrack.video.frames import Frame, read_frames

BEFORE_S, AFTER_S = 0.6, 1.2  # of contact
SLOW_BEFORE_S, SLOW_AFTER_S = 0.15, 0.15
SLOW, SLOWER = Fraction(1, 4), Fraction(1, 8)  # the second where frames are so many that it is still smooth
MANY_FPS = 200.0
MOST_FPS = 60  # what any phone shows
READ_AROUND_S = 0.2  # read so much more on both sides: the nearest frame may lie outside


@dataclass(frozen=True, slots=True)
class Timeline:
    """Stretches of clip time shown one after the other."""

    stretches: tuple[Stretch, ...]
    fps: Fraction  # pictures per second of the clip that is written

    @property
    def shown_s(self) -> float:
        return sum(stretch.shown_s for stretch in self.stretches)

    def instants_s(self) -> Floats:
        """(n,) clip time that each written picture shows."""
        count = max(int(self.shown_s * self.fps + 1e-6), 1)
        shown = np.cumsum([0.0, *(stretch.shown_s for stretch in self.stretches)])
        edges = [self.stretches[0].start_s, *(stretch.stop_s for stretch in self.stretches)]
        return np.interp(np.arange(count) / float(self.fps), shown, edges)

    def speed_at(self, time_s: float) -> float:
        """How fast the clip runs at an instant; 1 is as it was."""
        inside = (stretch.speed for stretch in self.stretches if stretch.start_s <= time_s < stretch.stop_s)
        return next(inside, 1.0)


def swing_timeline(contact_s: float, first_s: float, last_s: float, filmed_fps: float) -> Timeline:
    """The timeline of one swing, as far as its clip goes.

    Parameters
    ----------
    contact_s : float
        Clip time whose picture shows the contact. [s]
    first_s, last_s : float
        Of the clip's pictures. [s]
    filmed_fps : float
        Frames per real second; 0 where unknown.
    """
    slow = float(SLOWER if filmed_fps >= MANY_FPS else SLOW)
    edges = [contact_s + off_s for off_s in (-BEFORE_S, -SLOW_BEFORE_S, SLOW_AFTER_S, AFTER_S)]
    edges = [min(max(edge, first_s), max(last_s, first_s)) for edge in edges]
    stretches = tuple(
        Stretch(start, stop, speed)
        for start, stop, speed in zip(edges, edges[1:], (1.0, slow, 1.0), strict=False)
        if stop - start > 1e-6
    )
    return Timeline(stretches or (Stretch(first_s, first_s + 1 / MOST_FPS),), written_fps(filmed_fps))


def written_fps(filmed_fps: float) -> Fraction:
    """The highest whole part of the filmed rate that any phone shows: 240 gives 60, 50 stays, 59.94 too."""
    if filmed_fps <= 0:
        return Fraction(30)
    exact = Fraction(filmed_fps).limit_denominator(1001)
    return exact / max(int(np.ceil(filmed_fps / MOST_FPS - 0.02)), 1)


def frames_at(info: ClipInfo, instants_s: Floats) -> Iterator[Frame]:
    """For each instant (n,), in order, the frame nearest to it; the same object while it is held.

    By the frames' own times: a phone's rate may change from frame to frame.

    Raises
    ------
    VideoError
        If no frame near them decodes.
    """
    start_s, stop_s = float(instants_s[0]) - READ_AROUND_S, float(instants_s[-1]) + READ_AROUND_S
    k, here = 0, None
    for there in read_frames(info.path, start_s, stop_s, threads=0, info=info):
        if here is not None:
            middle_s = (here.time_s + there.time_s) / 2
            while k < len(instants_s) and instants_s[k] < middle_s:
                yield here
                k += 1
            if k == len(instants_s):
                return
        here = there
    if here is None:
        raise VideoError(f"{info.path.name}: no picture between {start_s:.2f} and {stop_s:.2f} s decodes")
    for _ in range(k, len(instants_s)):
        yield here


def frames_near(info: ClipInfo, instants_s: Sequence[float]) -> tuple[Frame, ...]:
    """The frames nearest to a few instants, in order of time."""
    return tuple(frames_at(info, np.array(instants_s, dtype=np.float64)))
