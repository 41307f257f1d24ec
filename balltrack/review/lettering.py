"""Words on a picture: light letters on a dark, see-through plate."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from balltrack.review.sheet import DARK, LIGHT, Ink, Sheet
from balltrack.units import Floats

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

PLATE_SHARE = 0.62  # of the dark that a plate lays over the picture: words read, and the picture shows through
PAD_EM, GAP_EM, ROUND_EM = 0.6, 0.28, 0.45  # of the first line's height


@dataclass(frozen=True, slots=True)
class Line:
    """A line of words."""

    words: str
    height_px: int  # of the font
    bold: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """Words ready to be laid on a picture of any kind."""

    dark: Floats  # (h, w) share of the dark plate, 0 to 1
    light: Floats  # (h, w) share of the letters
    ink: Ink

    @property
    def size_px(self) -> tuple[int, int]:
        return self.dark.shape[1], self.dark.shape[0]


def plate_of(
    lines: Sequence[Line], ink: Ink = LIGHT, dark: float = PLATE_SHARE, least_px: tuple[int, int] = (0, 0)
) -> Plate:
    """Set lines of words one under the other, left-aligned, on a plate at least so large; even in size."""
    from PIL import Image, ImageDraw

    em = lines[0].height_px
    pad, gap = round(PAD_EM * em), round(GAP_EM * em)
    fonts = [_font(line.height_px, line.bold) for line in lines]
    widths = [font.getlength(line.words) for font, line in zip(fonts, lines, strict=True)]
    heights = [sum(font.getmetrics()) for font in fonts]
    width = max(int(np.ceil(max(widths))) + 2 * pad, least_px[0])
    height = max(sum(heights) + gap * (len(lines) - 1) + round(1.4 * pad), least_px[1])
    size = (width + width % 2, height + height % 2)
    back, front = Image.new("L", size), Image.new("L", size)
    ImageDraw.Draw(back).rounded_rectangle((0, 0, size[0] - 1, size[1] - 1), round(ROUND_EM * em), fill=255)
    pen, top = ImageDraw.Draw(front), round(0.7 * pad)
    for line, font, tall in zip(lines, fonts, heights, strict=True):
        pen.text((pad, top), line.words, fill=255, font=font)
        top += tall + gap
    return Plate(dark * np.asarray(back, np.float64) / 255, np.asarray(front, np.float64) / 255, ink)


def lay(sheet: Sheet, plate: Plate, left: int, top: int) -> None:
    """Lay words on a sheet with the plate's top left corner there (made even, and kept inside)."""
    (wide, tall), (width, height) = plate.size_px, sheet.size_px
    left = max(min(left, width - wide), 0) // 2 * 2
    top = max(min(top, height - tall), 0) // 2 * 2
    inked = zip(sheet.inked(DARK), sheet.inked(plate.ink), strict=True)
    for (plane, dark_value, step), (_, light_value, _) in inked:
        y, x = top // step, left // step
        part = plane[y : y + tall // step, x : x + wide // step]
        dark, light = (_smaller(share, step)[: part.shape[0], : part.shape[1]] for share in (plate.dark, plate.light))
        mixed = (part * (1 - dark) + dark_value * dark) * (1 - light) + light_value * light
        part[:] = np.rint(mixed).astype(np.uint8)


def _smaller(share: Floats, step: int) -> Floats:
    if step == 1:
        return share
    size = (share.shape[1] // step, share.shape[0] // step)
    return np.asarray(cv2.resize(share, size, interpolation=cv2.INTER_AREA), np.float64)


@lru_cache(maxsize=32)
def _font(height_px: int, bold: bool) -> "FreeTypeFont":
    """DejaVu Sans, which matplotlib brings along: Latin, Greek and Cyrillic letters."""
    import matplotlib
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name), height_px)
