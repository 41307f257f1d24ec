"""A short clip of each swing: the ball's path drawn as it flies, its numbers in a corner, slow around contact."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.corner import Captions, Corner, captions_of, quiet_corner
from balltrack.review.drawn_path import DrawnPath, draw_path, drawn_path
from balltrack.review.filmed import FilmedSwing, filmed_swings
from balltrack.review.sheet import Framing, sheet_of, whole
from balltrack.review.timeline import Timeline, frames_at, swing_timeline
from balltrack.video.encode import Planes, SlowedSound, write_clip
from balltrack.video.frames import Frame
from balltrack.video.sound import Sound, read_sound

MOST_SHORT_PX = 720  # of the clip that is written: plenty for a phone, and half the work of 1080


def write_flight_clips(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    which: Collection[int],
) -> tuple[Path, ...]:
    """Write ``clips/swing-007.mp4`` in the review's folder for each swing with a number in ``which``.

    Parameters
    ----------
    folder : Path
        Of the review: results/review.
    lesson, swings, solved
        As measured; all swings of the lesson, in order.
    units : Units
        Of the numbers in the corner.
    which : collection of int
        Numbers from 1. Those without pictures or without any sign of contact are left out.

    Raises
    ------
    VideoError
        If a clip cannot be read or written.
    RecordError
        If there is no swing of a number.
    """
    filmed = filmed_swings(lesson, swings, solved, which)
    paths = [drawn_path(each) for each in filmed]
    heard: dict[Path, Sound | None] = {}
    written = []
    for each, path in zip(filmed, paths, strict=True):
        if each.info.path not in heard:
            heard = {each.info.path: read_sound(each.info.path, each.info)}  # of one clip only: sound is large
        framing, timeline = whole(each.info.size_px, MOST_SHORT_PX), timeline_of(each)
        slow = min(stretch.speed for stretch in timeline.stretches)
        captions = captions_of(each, path, units, slow, framing.size_px)
        corner = quiet_corner(paths, solved.camera, each.bats, framing, captions.after.size_px)
        sound = heard[each.info.path]
        slowed = None if sound is None else SlowedSound(sound, timeline.stretches)
        pictures = _Clip(each, path, framing, captions, corner).pictures(timeline)
        target = folder / "clips" / f"swing-{each.number:03d}.mp4"
        write_clip(target, pictures, timeline.fps, each.tags, slowed)
        written.append(target)
    return tuple(written)


def timeline_of(filmed: FilmedSwing) -> Timeline:
    """When each picture of a swing's clip is from, in time stamps of the filmed clip."""
    times_s = filmed.times_s
    return swing_timeline(filmed.contact_stamp_s, float(times_s[0]), float(times_s[-1]), filmed.info.nominal_fps)


@dataclass(frozen=True, slots=True, eq=False)
class _Clip:
    """All that its pictures are drawn from."""

    filmed: FilmedSwing
    path: DrawnPath
    framing: Framing
    captions: Captions
    corner: Corner

    def pictures(self, timeline: Timeline) -> Iterator[Planes]:
        """One that is held is drawn once for usual speed and once for slow motion."""
        instants_s = timeline.instants_s()
        drawn: tuple[int, bool] = (-1, False)
        planes: Planes | None = None
        for instant_s, frame in zip(instants_s.tolist(), frames_at(self.filmed.info, instants_s), strict=True):
            is_slow = timeline.speed_at(instant_s) < 1
            if planes is None or drawn != (frame.index, is_slow):
                drawn, planes = (frame.index, is_slow), self._draw(frame, is_slow)
            yield planes

    def _draw(self, frame: Frame, is_slow: bool) -> Planes:
        sheet = sheet_of(frame, self.filmed.info.full_range, self.framing)
        draw_path(sheet, self.path, frame.time_s - self.filmed.contact_s, self.framing)
        self.captions.draw(sheet, self.corner, frame.time_s >= self.filmed.contact_stamp_s, is_slow)
        return sheet.planes
