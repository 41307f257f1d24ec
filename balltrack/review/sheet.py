"""Drawing on a picture as it lies in memory: straight onto a video's planes, or onto blue, green and red.

A video's frames are never turned into another colour space: that would cost more than decoding them.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats
from balltrack.video.colour import limited
from balltrack.video.frames import Frame
from balltrack.video.orientation import Bytes

SUBPIXEL_BITS = 4  # of OpenCV's drawing functions
FARTHEST_PX = 8000.0  # beyond any picture: OpenCV's own limit is 32767


@dataclass(frozen=True)
class Ink:
    """A colour, as red, green, blue of 0 to 255."""

    red: int
    green: int
    blue: int

    @cached_property
    def bgr(self) -> tuple[float, float, float]:
        return float(self.blue), float(self.green), float(self.red)

    @cached_property
    def ycc(self) -> tuple[float, float, float]:
        """Limited-range luma and colour differences: Rec. ITU-R BT.709, near enough to others' for a drawn line."""
        red, green, blue = (value / 255 for value in (self.red, self.green, self.blue))
        luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        return 16 + 219 * luma, 128 + 224 * (blue - luma) / 1.8556, 128 + 224 * (red - luma) / 1.5748


# Light on dark: a light line with a dark rim shows on grass, dirt, sky and chalk, in colour and without.
LIGHT, DARK = Ink(255, 244, 214), Ink(16, 28, 34)
ACCENT = Ink(255, 176, 59)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A picture that is drawn on: three planes that are changed in place."""

    planes: tuple[Bytes, Bytes, Bytes]
    kind: Literal["ycc", "bgr"]

    @property
    def size_px(self) -> tuple[int, int]:
        """Width, height."""
        height, width = self.planes[0].shape
        return width, height

    @property
    def short_px(self) -> int:
        """The shorter side: what the size of letters and lines goes by."""
        return min(self.size_px)

    def inked(self, ink: Ink) -> list[tuple[Bytes, float, int]]:
        """Each plane with the ink's value in it and by how much it is smaller."""
        values = ink.ycc if self.kind == "ycc" else ink.bgr
        width = self.size_px[0]
        return [(plane, value, round(width / plane.shape[1])) for plane, value in zip(self.planes, values, strict=True)]


@dataclass(frozen=True, slots=True)
class Framing:
    """Which part of a clip's picture is shown, and how large."""

    crop_px: tuple[int, int, int, int]  # left, top, width, height in the clip's picture
    size_px: tuple[int, int]  # width, height shown; even

    def shown(self, pixels: Floats) -> Floats:
        """Pixels (n, 2) of the clip's picture in the shown one."""
        left, top, width, height = self.crop_px
        scale = np.array([self.size_px[0] / width, self.size_px[1] / height])
        return np.asarray((pixels - [left, top] + 0.5) * scale - 0.5)

    @property
    def scale(self) -> float:
        """Shown pixels per pixel of the clip."""
        return self.size_px[0] / self.crop_px[2]


def whole(size_px: tuple[int, int], most_short_px: int) -> Framing:
    """The whole picture, no more than ``most_short_px`` on its shorter side, in even numbers."""
    scale = min(most_short_px / min(size_px), 1.0)
    return Framing((0, 0, *size_px), (even(size_px[0] * scale), even(size_px[1] * scale)))


def even(length: float) -> int:
    """The nearest even number: what a video's planes of half size ask for."""
    return max(2 * round(length / 2), 2)


def sheet_of(frame: Frame, full_range: bool, framing: Framing) -> Sheet:
    """A frame's shown part, to draw on. Limited range, whatever the file's."""
    left, top, width, height = framing.crop_px
    shown_w, shown_h = framing.size_px
    planes = []
    for plane, step in ((frame.luma, 1), (frame.cb, 2), (frame.cr, 2)):
        part = plane[top // step : -(-(top + height) // step), left // step : -(-(left + width) // step)]
        size = (shown_w // step, shown_h // step)
        shrinks = size[0] < part.shape[1]
        way = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
        same = (part.shape[1], part.shape[0]) == size
        planes.append(part.copy() if same else np.asarray(cv2.resize(part, size, interpolation=way), np.uint8))
    found = (planes[0], planes[1], planes[2])
    return Sheet(limited(found) if full_range else found, "ycc")


def stroke(sheet: Sheet, points_px: Floats, ink: Ink, width_px: float, closed: bool = False) -> None:
    """Draw a line through points (n, 2); where one is NaN the line has a gap."""
    for run in _runs(points_px):
        for plane, value, step in sheet.inked(ink):
            thick = max(round(width_px / step), 1)
            cv2.polylines(plane, [_fixed(run, step)], closed, value, thick, cv2.LINE_AA, SUBPIXEL_BITS)


def line(
    sheet: Sheet, points_px: Floats, ink: Ink = LIGHT, width_px: float | None = None, closed: bool = False
) -> None:
    """A light line with a dark rim; without a width, one that fits the picture."""
    width = line_px(sheet) if width_px is None else width_px
    stroke(sheet, points_px, DARK, width + max(0.8 * width, 2), closed)
    stroke(sheet, points_px, ink, width, closed)


def line_px(sheet: Sheet) -> float:
    """Usual width of a line."""
    return max(sheet.short_px / 240, 1.0)


def dots(sheet: Sheet, points_px: Floats, ink: Ink = LIGHT, radius_px: float | None = None) -> None:
    """Dots with a dark rim at points (n, 2)."""
    radius = 0.75 * line_px(sheet) if radius_px is None else radius_px
    for colour, size in ((DARK, radius + max(0.4 * radius, 1.0)), (ink, radius)):
        for point in points_px[np.isfinite(points_px).all(axis=1)]:
            _disc(sheet, point, size, colour, cv2.FILLED)


def ring(sheet: Sheet, centre_px: Floats, radius_px: float, ink: Ink = LIGHT) -> None:
    """A circle with a dark rim."""
    if np.isfinite([*centre_px, radius_px]).all():
        width = line_px(sheet)
        _disc(sheet, centre_px, radius_px, DARK, width + max(0.8 * width, 2))
        _disc(sheet, centre_px, radius_px, ink, width)


def arrow(
    sheet: Sheet, tail_px: Floats, tip_px: Floats, ink: Ink = LIGHT, width_px: float | None = None
) -> None:
    """An arrow with a dark rim, its head as large as its line is wide; without a width, one that fits the picture."""
    width = line_px(sheet) if width_px is None else width_px
    along = tip_px - tail_px
    length = float(np.hypot(*along))
    if length < 1:
        return
    way = along / length
    across = np.array([-way[1], way[0]])
    head = min(7 * width, length / 2)
    barbs = [tip_px - head * way + side * 0.55 * head * across for side in (1, -1)]
    strokes = (np.array([tail_px, tip_px]), np.array([barbs[0], tip_px, barbs[1]]))
    for colour, thick in ((DARK, width + max(0.8 * width, 2)), (ink, width)):
        for points in strokes:
            stroke(sheet, points, colour, thick)


def evenly(points_px: Floats, gap_px: float) -> Floats:
    """(m, 2) points ``gap_px`` apart along a line through (n, 2) finite points, both ends included where they fit."""
    if len(points_px) < 2:
        return points_px
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_px, axis=0).T))])
    at = np.arange(0.0, run[-1] + 1e-9, gap_px)
    return np.column_stack([np.interp(at, run, points_px[:, k]) for k in (0, 1)])


def _disc(sheet: Sheet, centre_px: Floats, radius_px: float, ink: Ink, width_px: float) -> None:
    for plane, value, step in sheet.inked(ink):
        thick = cv2.FILLED if width_px < 0 else max(round(width_px / step), 1)
        (x, y) = _fixed(centre_px[None], step)[0, 0].tolist()
        radius = max(round(radius_px / step * 2**SUBPIXEL_BITS), 1)
        cv2.circle(plane, (x, y), radius, value, thick, cv2.LINE_AA, SUBPIXEL_BITS)


def _fixed(points_px: Floats, step: int) -> NDArray[np.int32]:
    """(n, 1, 2) as OpenCV's functions take them, on a plane smaller by ``step``, whose samples lie left of two pixels.

    Where 4:2:0 samples lie: ITU-T H.273, chroma sample location type 0.
    """
    at = points_px / step - (np.array([0.0, 0.25]) if step == 2 else 0.0)
    return np.asarray(np.rint(np.clip(at, -FARTHEST_PX, FARTHEST_PX) * 2**SUBPIXEL_BITS), dtype=np.int32)[:, None, :]


def _runs(points_px: Floats) -> list[Floats]:
    """The stretches of two or more points without a NaN."""
    finite = np.isfinite(points_px).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], finite, [False]]).astype(int)))
    return [points_px[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


def blank(size_px: tuple[int, int], ink: Ink) -> Sheet:
    """A bgr sheet of one colour."""
    width, height = size_px
    planes = [np.full((height, width), round(value), np.uint8) for value in ink.bgr]
    return Sheet((planes[0], planes[1], planes[2]), "bgr")


def sheet_of_bgr(picture: Bytes) -> Sheet:
    """A copy of a (h, w, 3) picture, to draw on."""
    blue, green, red = (np.ascontiguousarray(picture[:, :, k]) for k in range(3))
    return Sheet((blue, green, red), "bgr")


def jpeg_of(sheet: Sheet, quality: int = 88) -> bytes:
    """A bgr sheet as a JPEG file."""
    done, data = cv2.imencode(".jpg", cv2.merge(sheet.planes), [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done  # a picture in memory
    return data.tobytes()


def put(sheet: Sheet, other: Sheet, left: int, top: int) -> None:
    """Lay another sheet of the same kind over this one; ``left`` and ``top`` even for a video's planes."""
    width = sheet.size_px[0]
    for plane, part in zip(sheet.planes, other.planes, strict=True):
        step = round(width / plane.shape[1])
        y, x = top // step, left // step
        plane[y : y + part.shape[0], x : x + part.shape[1]] = part
