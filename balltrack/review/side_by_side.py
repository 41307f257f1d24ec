"""Two swings of a lesson side by side, both at contact in the same picture: same crop, same scale, same clock."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from balltrack.camera.solve import SolvedCamera
from balltrack.errors import RecordError
from balltrack.lesson import Lesson
from balltrack.records import wording
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED, Units
from balltrack.review.batter import batter_framing
from balltrack.review.corner import letters_px, margin_px, slow_words
from balltrack.review.drawn_path import DrawnPath, draw_path, drawn_path
from balltrack.review.filmed import FilmedSwing, filmed_swings
from balltrack.review.language import say, texts
from balltrack.review.lettering import Line, Plate, lay, plate_of
from balltrack.review.sheet import Framing, Sheet, sheet_of
from balltrack.review.timeline import Timeline, frames_at, swing_timeline
from balltrack.video.encode import Planes, write_clip
from balltrack.video.frames import Frame

HALF_PX = (640, 720)  # of one swing; two make 1280 x 720, which any phone plays
ROOM = 1.45  # about the batter, for the first of the flight


def first_and_best(swings: Sequence[Swing]) -> tuple[int, int] | None:
    """Numbers of the first measured swing and of the hardest hit one; None where they are not two.

    A swing whose numbers are poor is no one's best.
    """
    kept = [(k, s) for k, s in enumerate(swings, start=1) if s.outcome == "measured" and not s.excluded]
    sure = [(k, s) for k, s in kept if s.quality != "poor"]
    if not sure:
        return None
    first, best = kept[0][0], max(sure, key=lambda each: each[1].exit_speed_mps or 0.0)[0]
    return None if first == best else (first, best)


def write_side_by_side(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    pair: tuple[int, int],
) -> Path:
    """Write ``clips/side-by-side-001-005.mp4`` in the review's folder, without sound: two would be one noise.

    Raises
    ------
    RecordError
        If one of the two has no pictures or no contact to align at.
    VideoError
        If a clip cannot be read or written, or is of another size than the marked picture.
    """
    left, right = filmed_pair(lesson, swings, solved, pair)
    framing = batter_framing(solved.camera, left.bats, HALF_PX, ROOM)
    timeline = _common_timeline(left, right)
    heads = tuple(_head(each, units) for each in (left, right))
    target = folder / "clips" / f"side-by-side-{pair[0]:03d}-{pair[1]:03d}.mp4"
    write_clip(target, _pictures((left, right), heads, framing, timeline), timeline.fps, left.tags)
    return target


def filmed_pair(
    lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera, pair: tuple[int, int]
) -> tuple[FilmedSwing, FilmedSwing]:
    """Look two swings up, in the order asked for. Raises as `write_side_by_side`."""
    found = {each.number: each for each in filmed_swings(lesson, swings, solved, pair)}
    for number in pair:
        if number not in found:
            raise RecordError(f"swing {number} has no contact to align at; choose another")
    return found[pair[0]], found[pair[1]]


def _common_timeline(left: FilmedSwing, right: FilmedSwing) -> Timeline:
    """As far as both clips go, in seconds since contact."""
    first_s = max(float(each.times_s[0]) - each.contact_stamp_s for each in (left, right))
    last_s = min(float(each.times_s[-1]) - each.contact_stamp_s for each in (left, right))
    return swing_timeline(0.0, first_s, last_s, min(left.info.nominal_fps, right.info.nominal_fps))


def _pictures(
    both: tuple[FilmedSwing, FilmedSwing], heads: tuple[Plate, ...], framing: Framing, timeline: Timeline
) -> Iterator[Planes]:
    since_s = timeline.instants_s()
    streams = [frames_at(each.info, since_s + each.contact_stamp_s) for each in both]
    paths = [drawn_path(each) for each in both]
    drawn: tuple[int, int, float] = (-1, -1, 0.0)
    planes: Planes | None = None
    for instant_s, left, right in zip(since_s.tolist(), *streams, strict=True):
        speed = timeline.speed_at(instant_s)
        if planes is None or drawn != (left.index, right.index, speed):
            drawn = (left.index, right.index, speed)
            halves = zip(both, (left, right), paths, heads, strict=True)
            sheets = [_half(*half, framing) for half in halves]
            planes = _joined(sheets, left.time_s - both[0].contact_stamp_s, speed).planes
        yield planes


def _half(filmed: FilmedSwing, frame: Frame, path: DrawnPath, head: Plate, framing: Framing) -> Sheet:
    sheet = sheet_of(frame, filmed.info.full_range, framing)
    draw_path(sheet, path, frame.time_s - filmed.contact_s, framing)
    margin = margin_px(HALF_PX)
    lay(sheet, head, margin, margin)
    return sheet


def _joined(halves: list[Sheet], since_s: float, speed: float) -> Sheet:
    """Both halves in one picture, with the time below."""
    width, height = HALF_PX
    planes = [np.hstack(pair) for pair in zip(*(half.planes for half in halves), strict=True)]
    for plane in planes:
        middle = plane.shape[1] // 2
        plane[:, middle - 1 : middle + 1] = 16 if plane is planes[0] else 128  # a black line between them
    sheet = Sheet((planes[0], planes[1], planes[2]), "ycc")
    time = time_words(since_s)
    words = time if speed == 1 else say("slow_clock", time=time, speed=slow_words(speed))
    clock = plate_of([Line(words, letters_px(HALF_PX)[1], bold=True)])
    lay(sheet, clock, width - clock.size_px[0] // 2, height - clock.size_px[1] - margin_px(HALF_PX))
    return sheet


def time_words(since_s: float) -> str:
    """How long before or after contact."""
    hundredths = round(100 * since_s)
    if hundredths == 0:
        return say("clock_at")
    return say("clock_before" if hundredths < 0 else "clock_after", seconds=f"{abs(hundredths) / 100:.2f}")


def _head(filmed: FilmedSwing, units: Units) -> Plate:
    large, small = letters_px(HALF_PX)
    swing = filmed.swing
    measured = f"{wording.exit_speed(swing, units)} {SPEED[units].unit}"
    words = measured if swing.outcome == "measured" else wording.outcome(swing, texts())
    head = say("swing_head", number=filmed.number, block=filmed.block_title)
    return plate_of([Line(head, small), Line(words, large, bold=True)])
