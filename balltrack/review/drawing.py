"""What a coach draws on a still: lines, arrows, words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from balltrack.errors import ShapeError
from balltrack.review.corner import letters_px
from balltrack.review.lettering import Line, lay, plate_of
from balltrack.review.sheet import ACCENT, arrow, jpeg_of, line, sheet_of_bgr

Kind = Literal["line", "arrow", "words"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawing:
    """One mark, in pixels of the still; the centre of its top left pixel is (0, 0).

    A line runs through two or more points, an arrow from the first of two to the second; words begin, with their
    plate's top left corner, at the one point they have.
    """

    kind: Kind
    points_px: tuple[Point, ...]
    words: str = ""

    def __post_init__(self) -> None:
        least, most = {"line": (2, 200), "arrow": (2, 2), "words": (1, 1)}[self.kind]
        if not least <= len(self.points_px) <= most:
            raise ShapeError(f"{self.kind} has {least} to {most} points, not {len(self.points_px)}")
        if not np.isfinite(self.points_px).all():
            raise ShapeError(f"a point of {self.kind} is not finite")
        if bool(self.words.strip()) != (self.kind == "words"):
            raise ShapeError("words belong to the kind 'words', and to no other")


def draw_on(jpeg: bytes, drawings: Sequence[Drawing]) -> bytes:
    """A still's file with the marks drawn on it; the file as it was where there are none.

    Raises
    ------
    ShapeError
        If it is no picture.
    """
    if not drawings:
        return jpeg
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    if picture is None:
        raise ShapeError("the still is not a picture")
    sheet = sheet_of_bgr(np.asarray(picture, np.uint8))
    small = letters_px(sheet.size_px)[1]
    for drawing in drawings:
        points = np.array(drawing.points_px, dtype=np.float64)
        if drawing.kind == "line":
            line(sheet, points, ACCENT)
        elif drawing.kind == "arrow":
            arrow(sheet, points[0], points[1], ACCENT)
        else:
            lines = [Line(words, small, bold=True) for words in drawing.words.strip().splitlines()]
            lay(sheet, plate_of(lines), round(points[0, 0]), round(points[0, 1]))
    return jpeg_of(sheet)
