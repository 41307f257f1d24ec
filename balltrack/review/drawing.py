"""What a coach drew on a still, drawn: lines, arrows, words."""

import textwrap
from collections.abc import Sequence

import cv2
import numpy as np

from balltrack.errors import ShapeError
from balltrack.records.drawings import Drawing
from balltrack.review.lettering import Line, lay, plate_of
from balltrack.review.sheet import ACCENT, arrow, jpeg_of, line, sheet_of_bgr

LETTERS = 1 / 20  # height as a share of the picture's shorter side: read on a phone, where a page is 360 points wide
STROKE = 1 / 150  # width of a line, likewise
LINE_LETTERS = 24  # then words go on below: half a picture wide


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
    letters, width = max(round(LETTERS * sheet.short_px), 10), max(STROKE * sheet.short_px, 1.5)
    for drawing in drawings:
        points = np.array(drawing.points_px, dtype=np.float64)
        if drawing.kind == "line":
            line(sheet, points, ACCENT, width)
        elif drawing.kind == "arrow":
            arrow(sheet, points[0], points[1], ACCENT, width)
        else:
            lines = [
                Line(words, letters, bold=True)
                for words in textwrap.wrap(drawing.words, LINE_LETTERS, break_on_hyphens=False)
            ]
            lay(sheet, plate_of(lines), round(points[0, 0]), round(points[0, 1]))
    return jpeg_of(sheet)
