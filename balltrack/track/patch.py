"""A piece of picture round the ball against the empty field, in light: brightness, and colours where they are stored.

A shutter averages light, not stored values: only in light is a pixel half of ball, half of field their mean.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, Bytes
from balltrack.track.sweep import Sampling
from balltrack.units import Floats
from balltrack.video.frames import Frame, box_about

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
        return np.asarray((place_px + 0.5) / self.pitch - 0.5)

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
        u, v = self.cells(place_px)
        half, step = half_px / self.pitch, self.colour_step
        (left, right), (top, bottom) = (
            (max(int(middle - half), 0) // step * step, min(int(np.ceil(middle + half)) + 1, side) // step * step)
            for middle, side in ((u, self.size[1]), (v, self.size[0]))
        )
        if right - left < SMALLEST_PATCH_PX or bottom - top < SMALLEST_PATCH_PX:
            return self, place_px
        cut = np.s_[top:bottom, left:right]
        half_cut = np.s_[:, top // step : bottom // step, left // step : right // step]
        offset = self.pitch * np.array([left, top])
        corner = self.corner_px[0] + int(offset[0]), self.corner_px[1] + int(offset[1])
        luma, field, sd = (np.ascontiguousarray(each[cut]) for each in (self.luma, self.luma_field, self.luma_sd))
        colour, colour_field, colour_sd = (
            np.ascontiguousarray(each[half_cut]) for each in (self.colour, self.colour_field, self.colour_sd)
        )
        part = Patch(luma, field, sd, colour, colour_field, colour_sd, corner, self.pitch)
        return part, place_px - offset


def patch_at(frame: Frame, background: Background, centre_px: Floats, half_px: float) -> Patch | None:
    """The pixels within half a side of a place; None where too few of them, or too many, lie in the picture."""
    height, width = frame.luma.shape
    box = box_about(centre_px, half_px, (width, height))
    if min(box.sides) < SMALLEST_PATCH_PX or max(box.sides) > LARGEST_PATCH_PX:
        return None
    cut, half_cut = box.cut, box.half_cut
    noise = np.float32(max(middle(background.luma_noise[cut]), 1.0))
    luma, luma_field = (LIGHT[plane[cut]] for plane in (frame.luma, background.luma))
    luma_sd = noise * np.maximum(cv2.blur(SLOPE[frame.luma[cut]], (3, 3)), np.float32(DARKEST_SLOPE))
    planes = frame.luma[cut], frame.cb[half_cut], frame.cr[half_cut]
    colour, colour_sd = _colours(planes, float(noise))
    colour_field, _ = _colours((background.luma[cut], background.cb[half_cut], background.cr[half_cut]), float(noise))
    change, colour_change = luma - luma_field, colour - colour_field
    for each in (change, *colour_change):
        each -= np.float32(middle(each))
    return Patch(change, luma_field, luma_sd, colour_change, colour_field, colour_sd, (box.left, box.top))


def middle(values: NDArray[np.generic]) -> float:
    """The median; of an even number, the upper of the middle two. Several times faster than numpy's own."""
    flat = values.ravel()
    return float(np.partition(flat, len(flat) // 2)[len(flat) // 2])


def _colours(planes: tuple[Bytes, Bytes, Bytes], luma_noise: float) -> tuple[Image, Image]:
    """Light of blue and of red beyond brightness where colours are stored, and its noise, both (2, h', w')."""
    luma, cb, cr = (plane.astype(np.float32) for plane in planes)
    rows = (luma[0::2] + luma[1::2]) / 2
    before = np.concatenate([rows[:, :1], rows[:, 1:-1:2]], axis=1)
    grey = (rows[:, 0::2] + (0.5 + SITED_PX) * rows[:, 1::2] + (0.5 - SITED_PX) * before) / 2
    grey = (grey - 16) / 219
    blue, red = grey + np.float32(BLUE / 224) * (cb - 128), grey + np.float32(RED / 224) * (cr - 128)
    green = (grey - np.float32(KR) * red - np.float32(KB) * blue) / np.float32(1 - KR - KB)
    red, green, blue = (np.maximum(each, 0) for each in (red, green, blue))
    red_light, green_light, blue_light = (_light(each) for each in (red, green, blue))
    bright = KR * red_light + KB * blue_light + (1 - KR - KB) * green_light
    slope = _slope(grey)
    noises = []
    for shade, share in ((blue, BLUE), (red, RED)):
        own = np.maximum(_slope(shade), np.float32(DARKEST_SLOPE))
        sd = np.hypot(own * np.float32(share * 219 / 224 * CHROMA_NOISE), (own - slope) * np.float32(luma_noise / 2))
        noises.append(cv2.blur(sd, (3, 3)))
    colours = [blue_light - bright, red_light - bright]
    return np.asarray(np.stack(colours), dtype=np.float32), np.asarray(np.stack(noises), dtype=np.float32)


def _light(share: NDArray[np.floating]) -> Image:
    """Light behind a stored share of white, scaled so that noise in codes of luma keeps its size at middle grey."""
    return np.float32(219 * 0.5 / DISPLAY_GAMMA) * _power(share, DISPLAY_GAMMA)


def _slope(share: NDArray[np.floating]) -> Image:
    """Light gained by one code of luma."""
    return _power(np.maximum(share, 0), DISPLAY_GAMMA - 1)


def _power(share: NDArray[np.floating], exponent: float) -> Image:
    """A power of shares of white, none below zero, over middle grey. OpenCV's is several times faster than numpy's."""
    return np.asarray(cv2.pow(share / np.float32(0.5), exponent), dtype=np.float32).reshape(share.shape)


_SHARES = np.clip((np.arange(256, dtype=np.float32) - 16) / 219, 0, None)
LIGHT, SLOPE = _light(_SHARES), _slope(_SHARES)  # (256,) of stored luma values
