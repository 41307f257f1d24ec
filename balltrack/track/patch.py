"""A piece of picture round the ball against the empty field, in light: brightness, and colours where they are stored.

A shutter averages light, not stored values: only in light is a pixel half of ball, half of field their mean.
"""

from dataclasses import dataclass
from math import ceil

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.detect.background import Background, Bytes
from balltrack.track.sweep import Sampling
from balltrack.units import Floats
from balltrack.video.frames import Box, Frame, box_about

Image = NDArray[np.float32]
CHROMA_NOISE = 2.5  # standard deviation of a quiet stored colour in phone files, compression included
DISPLAY_GAMMA = 2.2  # of stored pictures, nearly: IEC 61966-2-1 (sRGB) and ITU-R BT.709 as displayed
DARKEST_SLOPE = 0.4  # of light over code, where codes are too coarse to believe more
LARGEST_PATCH_PX = 700
SMALLEST_PATCH_PX = 6
# Along a row H.264 and HEVC put colour samples on even columns, but many encoders average pairs: half a column further
# on. A quarter is the least that either can be wrong by.
SITED_PX = 0.25
KR, KB = 0.2126, 0.0722  # shares of red and blue in luma, ITU-R BT.709
BLUE, RED = 2 * (1 - KB), 2 * (1 - KR)  # by which colour differences are multiplied, ITU-R BT.709
FINEST = 4096  # entries of the table of light per share of white
BRIGHTEST = 2.2  # share of white of the bluest and brightest code


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Picture minus empty field, and the empty field, over the noise. Cells are squares of ``pitch`` pixels."""

    luma: Image  # (h, w) change of light
    luma_field: Image  # (h, w)
    luma_sd: Image  # (h, w) noise of a pixel's light: light is coded more finely in the dark
    colour: Image  # (2, h', w') change of blue and of red beyond brightness; half the size where cells are pixels
    colour_field: Image  # (2, h', w')
    colour_sd: Image  # (2, h', w') noise of a stored sample
    corner_px: tuple[int, int]  # u, v of the top-left pixel
    pitch: int = 1

    @property
    def size(self) -> tuple[int, int]:
        """Height and width. [cells]"""
        return self.luma.shape[0], self.luma.shape[1]

    @property
    def colour_step(self) -> int:
        """Cells from one colour sample to the next."""
        return 2 if self.pitch == 1 else 1

    @property
    def colour_sampling(self) -> Sampling:
        """Where the colour samples stand among the cells."""
        if self.pitch == 1:
            return Sampling(2, (SITED_PX, 0.5))
        return Sampling(1, (-SITED_PX / self.pitch, 0.0))

    def cells(self, place_px: Floats) -> Floats:
        """Places in the patch [px from its top-left pixel's centre] in cells."""
        return place_px if self.pitch == 1 else np.asarray((place_px + 0.5) / self.pitch - 0.5)

    def coarser(self, factor: int) -> "Patch":
        """The same with cells larger by a power of two."""
        if factor == 1:
            return self
        step = self.colour_step
        rows, columns = (side // factor * factor for side in self.size)
        shape = columns // factor, rows // factor
        luma, field, sd = (
            np.asarray(cv2.resize(each[:rows, :columns], shape, interpolation=cv2.INTER_AREA), dtype=np.float32)
            for each in (self.luma, self.luma_field, self.luma_sd)
        )
        colour, colour_field, colour_sd = (
            np.stack([
                cv2.resize(each[: rows // step, : columns // step], shape, interpolation=cv2.INTER_AREA)
                for each in pair
            ])
            for pair in (self.colour, self.colour_field, self.colour_sd)
        )  # fmt: skip
        return Patch(luma, field, sd, colour, colour_field, colour_sd, self.corner_px, self.pitch * factor)

    def around(self, place_px: Floats, half_px: float) -> tuple["Patch", Floats]:
        """The part within so far of a place [px in the patch], and the place in it."""
        half, step = half_px / self.pitch, self.colour_step
        (left, right), (top, bottom) = (
            (max(int(middle - half), 0) // step * step, min(ceil(middle + half) + 1, side) // step * step)
            for middle, side in zip(self.cells(place_px).tolist(), self.size[::-1], strict=True)
        )
        if right - left < SMALLEST_PATCH_PX or bottom - top < SMALLEST_PATCH_PX:
            return self, place_px
        luma, field, sd = (each[top:bottom, left:right].copy() for each in (self.luma, self.luma_field, self.luma_sd))
        rows, columns = slice(top // step, bottom // step), slice(left // step, right // step)
        colour, colour_field, colour_sd = (
            each[:, rows, columns].copy() for each in (self.colour, self.colour_field, self.colour_sd)
        )
        offset = left * self.pitch, top * self.pitch
        corner = self.corner_px[0] + offset[0], self.corner_px[1] + offset[1]
        part = Patch(luma, field, sd, colour, colour_field, colour_sd, corner, self.pitch)
        return part, place_px - offset


def patch_at(frame: Frame, background: Background, centre_px: Floats, half_px: float) -> Patch | None:
    """The pixels within half a side of a place; None where too few of them, or too many, lie in the picture."""
    height, width = frame.luma.shape
    box = box_about(centre_px, half_px, (width, height))
    if min(box.sides) < SMALLEST_PATCH_PX or max(box.sides) > LARGEST_PATCH_PX:
        return None
    noise = max(middle(background.luma_noise[box.cut]), 1.0)
    shown, behind = _planes(frame, box), _planes(background, box)
    luma_field = _looked_up(behind[0], LIGHT)
    change = _looked_up(shown[0], LIGHT) - luma_field
    luma_sd = np.float32(noise) * np.maximum(_blurred(_looked_up(shown[0], SLOPE)), np.float32(DARKEST_SLOPE))
    colour, sharp_sd = _colours(*shown, noise, SHADES)
    colour_field, _ = _colours(*behind, noise, SHADES)
    colour_change, colour_sd = colour - colour_field, np.stack([_blurred(each) for each in sharp_sd])
    for each in (change, *colour_change):
        each -= np.float32(middle(each))
    return Patch(change, luma_field, luma_sd, colour_change, colour_field, colour_sd, (box.left, box.top))


def middle(values: NDArray[np.generic]) -> float:
    """The median; of an even number, the upper of the middle two. Several times faster than numpy's own."""
    flat = values.ravel()
    return float(np.partition(flat, len(flat) // 2)[len(flat) // 2])


def _planes(picture: Frame | Background, box: Box) -> tuple[Bytes, Bytes, Bytes]:
    """A copy of what lies within a box: luma, blue and red."""
    return picture.luma[box.cut].copy(), picture.cb[box.half_cut].copy(), picture.cr[box.half_cut].copy()


def _looked_up(codes: Bytes, table: Image) -> Image:
    """(h, w) what a table (256,) says of each code. OpenCV's is several times faster than numpy's."""
    return np.asarray(cv2.LUT(codes, table), dtype=np.float32)


def _blurred(picture: Image) -> Image:
    return np.asarray(cv2.blur(picture, (3, 3)), dtype=np.float32)


@compiled
def _colours(luma: Bytes, cb: Bytes, cr: Bytes, luma_noise: float, shades: Image) -> tuple[Image, Image]:
    """Light of blue and of red beyond brightness where colours are stored, and its noise, both (2, h', w')."""
    out, noise = np.empty((2, *cb.shape), np.float32), np.empty((2, *cb.shape), np.float32)
    for i in range(cb.shape[0]):
        for j in range(cb.shape[1]):
            here, before, total = 2 * j, max(2 * j - 1, 0), 0.0
            for row in range(2 * i, 2 * i + 2):
                beside = (0.5 + SITED_PX) * luma[row, here + 1] + (0.5 - SITED_PX) * luma[row, before]
                total += luma[row, here] + beside
            grey = (total / 4 - 16) / 219
            blue, red = grey + BLUE / 224 * (cb[i, j] - 128.0), grey + RED / 224 * (cr[i, j] - 128.0)
            green = (grey - KR * red - KB * blue) / (1 - KR - KB)
            blue_light, blue_slope = _shade(shades, blue)
            red_light, red_slope = _shade(shades, red)
            bright = KR * red_light + KB * blue_light + (1 - KR - KB) * _shade(shades, green)[0]
            out[0, i, j], out[1, i, j] = blue_light - bright, red_light - bright
            slope = _shade(shades, grey)[1]
            noise[0, i, j] = _noise(BLUE, blue_slope, slope, luma_noise)
            noise[1, i, j] = _noise(RED, red_slope, slope, luma_noise)
    return out, noise


@compiled
def _shade(shades: Image, share: float) -> tuple[float, float]:
    """Light behind a share of white, and its slope, from the table."""
    place = max(share, 0.0) * FINEST
    first = int(place)
    part = place - first
    return (
        shades[first, 0] + part * (shades[first + 1, 0] - shades[first, 0]),
        shades[first, 1] + part * (shades[first + 1, 1] - shades[first, 1]),
    )


@compiled
def _noise(colour: float, own_slope: float, grey_slope: float, luma_noise: float) -> float:
    """Of the light of a colour beyond brightness, where colour differences are multiplied by so much."""
    own = max(own_slope, DARKEST_SLOPE)
    coded, bright = own * (colour * 219 / 224 * CHROMA_NOISE), (own - grey_slope) * (luma_noise / 2)
    return float(np.sqrt(coded * coded + bright * bright))


def _light(share: Floats) -> Image:
    """Light behind a stored share of white, scaled so that noise in codes of luma keeps its size at middle grey."""
    return np.asarray(219 * 0.5 / DISPLAY_GAMMA * (share / 0.5) ** DISPLAY_GAMMA, dtype=np.float32)


def _slope(share: Floats) -> Image:
    """Light gained by one code of luma."""
    return np.asarray((share / 0.5) ** (DISPLAY_GAMMA - 1), dtype=np.float32)


_SHARES, _FINE_SHARES = np.clip((np.arange(256) - 16) / 219, 0, None), np.arange(BRIGHTEST * FINEST + 1) / FINEST
LIGHT, SLOPE = _light(_SHARES), _slope(_SHARES)  # (256,) of stored luma values
SHADES = np.stack([_light(_FINE_SHARES), _slope(_FINE_SHARES)], axis=1)  # (n, 2)
