"""Stills of two swings at the same times before and after contact, one above the other, the times printed on each.

They show how early each part of a swing began: stride, hands, barrel.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson
from balltrack.records import wording
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED, Units
from balltrack.review.batter import batter_framing
from balltrack.review.filmed import FilmedSwing
from balltrack.review.language import say, texts
from balltrack.review.lettering import Line, lay, plate_of
from balltrack.review.sheet import (
    ACCENT,
    DARK,
    Framing,
    Ink,
    Sheet,
    blank,
    jpeg_of,
    put,
    sheet_of,
    sheet_of_bgr,
    stroke,
)
from balltrack.review.side_by_side import filmed_pair
from balltrack.review.timeline import frames_near
from balltrack.video.colour import bgr_of

TIMES_S = tuple(k / 1000 for k in range(-350, 101, 50))  # of the stills, about contact
COLUMNS = 5  # then a new pair of rows: five are wide enough on A4 and on a phone
STILL_PX = (300, 320)
GAP_PX, HEAD_PX, FOOT_PX, LETTERS_PX = 8, 44, 42, 26
PAPER, EMPTY = Ink(255, 255, 255), Ink(222, 222, 218)
BORDER_PX = 7


def write_strip(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    pair: tuple[int, int],
) -> Path:
    """Write ``clips/strip-001-005.jpg`` in the review's folder. Raises as `side_by_side.write_side_by_side`."""
    both = filmed_pair(lesson, swings, solved, pair)
    framing = batter_framing(solved.camera, both[0].bats, STILL_PX)
    stills = [_stills(each, framing) for each in both]
    heads = [_head(each, units) for each in both]
    target = folder / "clips" / f"strip-{pair[0]:03d}-{pair[1]:03d}.jpg"
    write_atomic(target, jpeg_of(_laid_out(stills, heads)))
    return target


def strip_words(pair: tuple[int, int]) -> str:
    """What the strip shows, for those who cannot see it."""
    first, last = (round(1000 * time_s) for time_s in (TIMES_S[0], TIMES_S[-1]))
    return say("strip", first=pair[0], second=pair[1], before=-first, after=last)


def _stills(filmed: FilmedSwing, framing: Framing) -> list[Sheet]:
    wanted_s = np.array(TIMES_S) + filmed.contact_stamp_s
    nearest_s = filmed.times_s[np.abs(filmed.times_s[:, None] - wanted_s).argmin(axis=0)]
    frame_s = 1 / (filmed.info.nominal_fps or 30.0)
    stills = []
    for frame, due_s, stamp_s in zip(frames_near(filmed.info, nearest_s.tolist()), TIMES_S, nearest_s, strict=True):
        since_s = float(stamp_s) - filmed.contact_stamp_s
        if abs(since_s - due_s) > frame_s or abs(frame.time_s - stamp_s) > frame_s / 2:
            stills.append(_missing(due_s))
            continue
        sheet = sheet_of_bgr(bgr_of(sheet_of(frame, filmed.info.full_range, framing).planes, filmed.tags))
        stills.append(_captioned(sheet, since_s, is_contact=due_s == 0))
    return stills


def _captioned(sheet: Sheet, since_s: float, is_contact: bool) -> Sheet:
    """The still with its time below, where it covers no foot; that of contact has a frame."""
    width, height = STILL_PX
    if is_contact:
        rim = BORDER_PX / 2
        corners = [[rim, rim], [width - rim, rim], [width - rim, height - rim], [rim, height - rim]]
        stroke(sheet, np.array(corners), ACCENT, BORDER_PX, closed=True)
    page = blank((width, height + FOOT_PX), PAPER)
    put(page, sheet, 0, 0)
    words = say("strip_contact", time=ms_words(since_s)) if is_contact else ms_words(since_s)
    _print(page, words, height, bold=is_contact)
    return page


def _print(page: Sheet, words: str, top: int, bold: bool) -> None:
    """Dark words on the paper, from its left edge."""
    plate = plate_of([Line(words, LETTERS_PX, bold)], ink=DARK, dark=0.0)
    lay(page, plate, 0, top)


def ms_words(since_s: float) -> str:
    """Milliseconds since contact, with a sign."""
    ms = round(1000 * since_s)
    return f"{'−' if ms < 0 else '+' if ms > 0 else ''}{abs(ms)} ms"


def _missing(due_s: float) -> Sheet:
    """In place of a still that was not filmed."""
    sheet = blank((STILL_PX[0], STILL_PX[1] + FOOT_PX), PAPER)
    put(sheet, blank(STILL_PX, EMPTY), 0, 0)
    _print(sheet, say("not_filmed"), STILL_PX[1] // 2, bold=False)
    _print(sheet, ms_words(due_s), STILL_PX[1], bold=False)
    return sheet


def _head(filmed: FilmedSwing, units: Units) -> str:
    swing = filmed.swing
    speed = f"{wording.exit_speed(swing, units)} {SPEED[units].unit}"
    told = speed if swing.outcome == "measured" else wording.outcome(swing, texts())
    return say("strip_head", number=filmed.number, block=filmed.block_title, told=told)


def _laid_out(stills: list[list[Sheet]], heads: list[str]) -> Sheet:
    """Pairs of rows, one pair for each few times."""
    width, height = STILL_PX
    bands = -(-len(TIMES_S) // COLUMNS)
    row_px = HEAD_PX + height + FOOT_PX + GAP_PX
    band_px = 2 * row_px + 2 * GAP_PX
    page = blank((COLUMNS * (width + GAP_PX) + GAP_PX, bands * band_px + GAP_PX), PAPER)
    for band in range(bands):
        for row, (sheets, head) in enumerate(zip(stills, heads, strict=True)):
            top = GAP_PX + band * band_px + row * row_px
            _print(page, head, top, bold=True)
            for column, sheet in enumerate(sheets[band * COLUMNS : (band + 1) * COLUMNS]):
                put(page, sheet, GAP_PX + column * (width + GAP_PX), top + HEAD_PX)
    return page
