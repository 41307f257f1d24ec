"""A short clip of each swing: the ball's path drawn as it flies, its numbers in a corner, slow around contact."""

from collections.abc import Collection, Iterator, Sequence
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
        framing = whole(each.info.size_px, MOST_SHORT_PX)
        sample = captions_of(
            each.number, each.swing, each.block_title, units, 0.25, framing.size_px, Corner(False, False)
        )
        corner = quiet_corner(paths, solved.camera, each.bats, framing, sample.after.size_px)
        if each.info.path not in heard:
            heard = {each.info.path: read_sound(each.info.path, each.info)}  # of one clip only: sound is large
        target = folder / "clips" / f"swing-{each.number:03d}.mp4"
        _write(target, each, path, units, framing, corner, heard[each.info.path])
        written.append(target)
    return tuple(written)


def _write(
    target: Path,
    filmed: FilmedSwing,
    path: DrawnPath,
    units: Units,
    framing: Framing,
    corner: Corner,
    sound: Sound | None,
) -> None:
    timeline = timeline_of(filmed)
    slow = min(stretch.speed for stretch in timeline.stretches)
    captions = captions_of(filmed.number, filmed.swing, filmed.block_title, units, slow, framing.size_px, corner)
    slowed = None if sound is None else SlowedSound(sound, timeline.stretches)
    write_clip(target, _pictures(filmed, path, framing, captions, timeline), timeline.fps, filmed.tags, slowed)


def timeline_of(filmed: FilmedSwing) -> Timeline:
    """When each picture of a swing's clip is from, in time stamps of the filmed clip."""
    times_s = filmed.times_s
    return swing_timeline(filmed.contact_stamp_s, float(times_s[0]), float(times_s[-1]), filmed.info.nominal_fps)


def _pictures(
    filmed: FilmedSwing, path: DrawnPath, framing: Framing, captions: Captions, timeline: Timeline
) -> Iterator[Planes]:
    """The clip's pictures; one that is held is drawn once for each of the two states of the corner."""
    instants_s = timeline.instants_s()
    drawn: tuple[int, bool] = (-1, False)
    planes: Planes | None = None
    for instant_s, frame in zip(instants_s.tolist(), frames_at(filmed.info, instants_s), strict=True):
        is_slow = timeline.speed_at(instant_s) < 1
        if planes is None or drawn != (frame.index, is_slow):
            sheet = sheet_of(frame, filmed.info.full_range, framing)
            stamp_s = frame.time_s - filmed.contact_s
            draw_path(sheet, path, stamp_s, framing)
            captions.draw(sheet, frame.time_s >= filmed.contact_stamp_s, is_slow)
            drawn, planes = (frame.index, is_slow), sheet.planes
        yield planes
