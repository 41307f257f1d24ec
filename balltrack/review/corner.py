"""The quiet corner of a clip: its swing's number, speed and angles, and how slow it runs, where they hide nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from balltrack.camera.model import Camera
from balltrack.records import wording
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED, Units
from balltrack.review.batter import batter_box_px
from balltrack.review.drawn_path import DrawnPath
from balltrack.review.filmed import FilmedSwing
from balltrack.review.language import say, texts
from balltrack.review.lettering import Line, Plate, lay, plate_of
from balltrack.review.sheet import Framing, Sheet

LARGE, SMALL = 1 / 17, 1 / 30  # height of letters as a share of the picture's shorter side
MARGIN = 1 / 36


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of the picture."""

    right: bool
    bottom: bool

    def place(self, sheet_px: tuple[int, int], plate_px: tuple[int, int], margin_px: int) -> tuple[int, int]:
        """Left and top of a plate that lies in it."""
        left = sheet_px[0] - plate_px[0] - margin_px if self.right else margin_px
        top = sheet_px[1] - plate_px[1] - margin_px if self.bottom else margin_px
        return left, top


CORNERS = tuple(Corner(right, bottom) for bottom in (False, True) for right in (False, True))


@dataclass(frozen=True, slots=True, eq=False)
class Captions:
    """What stands in the corner: before contact, after it, and while the clip runs slow."""

    before: Plate
    after: Plate
    slow: Plate

    def draw(self, sheet: Sheet, corner: Corner, is_after: bool, is_slow: bool) -> None:
        """Lay them on a picture."""
        plate, margin = self.after if is_after else self.before, margin_px(sheet.size_px)
        left, top = corner.place(sheet.size_px, plate.size_px, margin)
        lay(sheet, plate, left, top)
        if is_slow:
            slow_left = corner.place(sheet.size_px, self.slow.size_px, margin)[0]
            apart = margin // 3
            below = top + plate.size_px[1] + apart
            above = top - self.slow.size_px[1] - apart
            lay(sheet, self.slow, slow_left, above if corner.bottom else below)


def captions_of(filmed: FilmedSwing, path: DrawnPath, units: Units, slow: float, size_px: tuple[int, int]) -> Captions:
    """The words of one swing, for pictures of one size."""
    large, small = letters_px(size_px)
    head = Line(say("swing_head", number=filmed.number, block=filmed.block_title), small)
    dots = [Line(say("dotted"), small)] if path.goes_on_unseen else []
    return Captions(
        before=plate_of([head]),
        after=plate_of([head, *_numbers(filmed.swing, units, large, small), *dots]),
        slow=plate_of([Line(say("slow", speed=slow_words(slow)), small, bold=True)]),
    )


def letters_px(size_px: tuple[int, int]) -> tuple[int, int]:
    """Heights of large and small letters."""
    short = min(size_px)
    return max(round(LARGE * short), 12), max(round(SMALL * short), 10)


def margin_px(size_px: tuple[int, int]) -> int:
    """Between the rim of a picture and what is written on it."""
    return max(round(MARGIN * min(size_px)), 4)


def slow_words(speed: float) -> str:
    """0.25 as 1/4."""
    share = Fraction(speed).limit_denominator(64)
    return f"{share.numerator}/{share.denominator}"


def _numbers(swing: Swing, units: Units, large: int, small: int) -> list[Line]:
    if swing.outcome != "measured":
        return [Line(say(f"alone_{swing.outcome}"), large, bold=True)]
    poor = [Line(say("swing_poor"), small)] if swing.quality == "poor" else []
    angles = say("swing_angles", launch=wording.launch(swing), direction=wording.direction(swing, texts()))
    speed = f"{wording.exit_speed(swing, units)} {SPEED[units].unit}"
    return [Line(speed, large, bold=True), Line(angles, small), *poor]


def quiet_corner(
    paths: Sequence[DrawnPath], camera: Camera, bats: str, framing: Framing, plate_px: tuple[int, int]
) -> Corner:
    """The corner in which a plate covers least of the batter and of all the paths: one for a whole lesson."""
    batter = framing.shown(batter_box_px(camera, bats))
    flown = [framing.shown(path.pixels) for path in paths if len(path.pixels)]

    def covered(corner: Corner) -> float:
        left, top = corner.place(framing.size_px, plate_px, margin_px(framing.size_px))
        box = np.array([[left, top], [left + plate_px[0], top + plate_px[1]]], dtype=np.float64)
        over = sum(float(np.mean(((points >= box[0]) & (points <= box[1])).all(axis=1))) for points in flown)
        shared = np.minimum(box[1], batter[1]) - np.maximum(box[0], batter[0])
        on_batter = float(np.prod(np.maximum(shared, 0.0))) / float(plate_px[0] * plate_px[1])
        return over / max(len(flown), 1) + on_batter

    return min(CORNERS, key=covered)
