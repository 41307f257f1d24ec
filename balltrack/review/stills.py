"""A still of each swing at contact, with the plate's lines drawn on the ground and how far ahead the ball was met."""

from collections.abc import Collection, Sequence
from pathlib import Path

import numpy as np

from balltrack.camera.model import Camera, apparent_diameter_px, project
from balltrack.camera.solve import SolvedCamera
from balltrack.field import BOX_GAP_M, PLATE_DEPTH_M, PLATE_HALF_M, named_points
from balltrack.lesson import Lesson
from balltrack.records import wording
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing
from balltrack.records.table import DEPTH, Units
from balltrack.review.batter import batter_framing
from balltrack.review.corner import letters_px, margin_px
from balltrack.review.filmed import FilmedSwing, filmed_swings
from balltrack.review.language import say
from balltrack.review.lettering import Line, lay, plate_of
from balltrack.review.sheet import (
    ACCENT,
    DARK,
    Framing,
    Ink,
    Sheet,
    blank,
    dots,
    evenly,
    jpeg_of,
    line,
    line_px,
    put,
    ring,
    sheet_of,
    sheet_of_bgr,
)
from balltrack.review.timeline import frames_near
from balltrack.units import Floats
from balltrack.video.colour import bgr_of

STILL_PX = (1200, 900)
ROOM = 1.1
PAPER = Ink(255, 255, 255)
PLATE = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right", "plate_tip")
REACH_M = PLATE_HALF_M + BOX_GAP_M  # the front edge's line goes on to the boxes
STEP_M = 0.02  # a bent lens bends lines
DOT_GAP = 4.5  # widths of a line


def write_contact_stills(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    which: Collection[int],
) -> tuple[Path, ...]:
    """Write ``clips/contact-007.jpg`` in the review's folder for each swing with a number in ``which``.

    Parameters and errors are those of `flight_clip.write_flight_clips`; misses have no contact and no still.
    """
    written = []
    hit = [number for number in which if swings[number - 1].outcome == "measured"]
    for filmed in filmed_swings(lesson, swings, solved, hit):
        target = folder / "clips" / f"contact-{filmed.number:03d}.jpg"
        write_atomic(target, jpeg_of(_still(filmed, lesson.ball.kind, units)))
        written.append(target)
    return tuple(written)


def still_words(number: int, swing: Swing, units: Units) -> str:
    """What the still shows, for those who cannot see it."""
    return say("contact_still", number=number, depth=depth_words(swing, units))


def depth_words(swing: Swing, units: Units) -> str:
    """How far ahead of the plate's front edge the ball was met, with the range that holds nine in ten."""
    if swing.contact_depth_m is None or swing.contact_sd_m is None:
        return say("met_unknown")
    scale = DEPTH[units]
    off = wording.NINE_IN_TEN * swing.contact_sd_m[1] / scale.si_per_unit
    far = abs(swing.contact_depth_m) / scale.si_per_unit
    name = "met_ahead" if swing.contact_depth_m >= 0 else "met_behind"
    return say(name, depth=f"{far:.0f}", off=f"{max(off, 1):.0f}", unit=scale.unit)


def _still(filmed: FilmedSwing, ball_kind: str, units: Units) -> Sheet:
    framing = batter_framing(filmed.camera, filmed.bats, STILL_PX, ROOM)
    (frame,) = frames_near(filmed.info, [filmed.contact_stamp_s])
    sheet = sheet_of_bgr(bgr_of(sheet_of(frame, filmed.info.full_range, framing).planes, filmed.tags))
    _draw_plate(sheet, filmed, ball_kind, framing)
    if filmed.flight is not None:
        _draw_contact(sheet, filmed.flight.contact_m, filmed, framing)
    small = round(1.1 * letters_px(STILL_PX)[1])
    off_ms = round(1000 * (frame.time_s - filmed.contact_stamp_s))
    when = say("when_at" if off_ms == 0 else "when_before" if off_ms < 0 else "when_after", ms=abs(off_ms))
    lines = [
        Line(say("contact_still_head", number=filmed.number, block=filmed.block_title, when=when), small),
        Line(depth_words(filmed.swing, units), small, bold=True),
    ]
    words = plate_of(lines, ink=DARK, dark=0.0)
    page = blank((STILL_PX[0], STILL_PX[1] + words.size_px[1]), PAPER)
    put(page, sheet, 0, 0)
    lay(page, words, 0, STILL_PX[1])
    return page


def _draw_plate(sheet: Sheet, filmed: FilmedSwing, ball_kind: str, framing: Framing) -> None:
    """The plate's outline, and its front edge drawn on to the batter's boxes."""
    camera, bats = filmed.camera, filmed.bats
    points = named_points(ball_kind, base_path_m=1.0)
    outline = np.array([points[name] for name in PLATE])
    line(sheet, _seen(outline, camera, framing), width_px=0.7 * line_px(sheet))
    front = np.array([[-REACH_M, PLATE_DEPTH_M, 0.0], [REACH_M, PLATE_DEPTH_M, 0.0]])
    shown = _seen(front, camera, framing)
    line(sheet, shown, ACCENT)
    end, other = shown[[-1, 0]] if bats == "right" else shown[[0, -1]]  # away from the batter's feet
    if np.isfinite([end, other]).all():
        label = plate_of([Line(say("front_edge"), round(0.8 * letters_px(STILL_PX)[1]))])
        gap, (width, height) = margin_px(STILL_PX) // 2, label.size_px
        left = end[0] + gap if end[0] > other[0] else end[0] - gap - width
        lay(sheet, label, round(left), round(end[1]) - height // 2)


def _draw_contact(sheet: Sheet, contact_m: Floats, filmed: FilmedSwing, framing: Framing) -> None:
    """The ball at contact, the ground below it, and the line on the ground on which it was met."""
    camera, gap = filmed.camera, DOT_GAP * line_px(sheet)
    x, y, _ = contact_m
    width_px = apparent_diameter_px(contact_m[None], camera.parameters, filmed.ball_diameter_m)[0]
    ball, radius = _seen(contact_m[None], camera, framing)[0], 0.6 * float(width_px) * framing.scale
    for ends in ([[x, y, 0.0], [x, y, contact_m[2]]], [[-REACH_M, y, 0.0], [REACH_M, y, 0.0]]):
        points = evenly(_finite(_seen(np.array(ends), camera, framing)), gap)
        dots(sheet, points[np.hypot(*(points - ball).T) > radius + gap / 2])
    ring(sheet, ball, radius)


def _finite(points: Floats) -> Floats:
    return points[np.isfinite(points).all(axis=1)]


def _seen(corners_m: Floats, camera: Camera, framing: Framing) -> Floats:
    """(n, 2) the way along corners (k, 3) as it is shown, in short steps."""
    lengths_m = np.linalg.norm(np.diff(corners_m, axis=0), axis=1)
    steps = [
        start + (end - start) * np.linspace(0, 1, max(int(length / STEP_M), 1), endpoint=False)[:, None]
        for start, end, length in zip(corners_m[:-1], corners_m[1:], lengths_m, strict=True)
    ]
    return framing.shown(project(np.concatenate([*steps, corners_m[-1:]]), camera))
