"""From linear light to the camera's 8-bit planes: tone curve, chroma, sharpening, noise, and light that changes."""

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from .arrays import Bytes, Floats, Image

STEPS = 65536  # of light, as 16-bit tables have
TOP = 1.6  # linear light beyond this is white
# Codes of R'G'B' (0..255) to limited-range Y'CbCr of 8 bits: ITU-R BT.709-6, item 3.
LUMA = np.array([0.2126, 0.7152, 0.0722])
TO_YUV = np.array(
    [
        [*(LUMA * 219 / 255), 16.0],
        [*((np.array([0.0, 0.0, 1.0]) - LUMA) / 1.8556 * 224 / 255), 128.0],
        [*((np.array([1.0, 0.0, 0.0]) - LUMA) / 1.5748 * 224 / 255), 128.0],
    ]
)
PER_STEP = np.full(4, (STEPS - 1) / TOP)  # four numbers: OpenCV takes them as a scalar
HALO_PX = 1.0  # width of a phone's sharpening at 1080 lines
REACH = 4  # pixels around a change that chroma and sharpening carry it; even
LUMA_GRAIN, CHROMA_GRAIN = 0.89, 0.13  # noise of a plane over that of green: channels share most of their grain
MOVED = 8.0  # codes from the still picture where a phone takes something as moving


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """A picture before its noise, in codes with fractions: 4:2:0, chroma sited left as in phones' files."""

    y: Image  # (h, w)
    u: Image  # (h/2, w/2)
    v: Image  # (h/2, w/2)
    spread: Image  # (h, w) noise sd

    def part(self, top: int, bottom: int, left: int, right: int) -> "Planes":
        """A view of an even-sided part."""
        half = (slice(top // 2, bottom // 2), slice(left // 2, right // 2))
        whole = (slice(top, bottom), slice(left, right))
        return Planes(self.y[whole], self.u[half], self.v[half], self.spread[whole])

    def take(self, other: "Planes") -> None:
        """Copy another's codes, in place."""
        for mine, theirs in zip(self.all(), other.all(), strict=True):
            np.copyto(mine, theirs)

    def all(self) -> tuple[Image, Image, Image, Image]:
        """The four arrays."""
        return self.y, self.u, self.v, self.spread


def blank(size_px: tuple[int, int]) -> Planes:
    """Planes to write to."""
    width, height = size_px
    whole, half = (height, width), (height // 2, width // 2)
    return Planes(*(np.zeros(shape, np.float32) for shape in (whole, half, half, whole)))


class Sensor:
    """Tone curve, and noise drawn from a pool: shot noise grows with light, read noise does not."""

    def __init__(self, seed: int, size_px: tuple[int, int], noise: float, sharpen: float = 0.0) -> None:
        self.size_px, self.sharpen, self.halo = size_px, sharpen, HALO_PX * max(size_px[1] / 1080, 0.7)
        self.light = np.linspace(0.0, TOP, STEPS)
        bright = 1.25 * self.light  # what a phone's metering gives a field
        pressed = np.where(bright < 0.5, bright, 1.0 - 0.5 * np.exp(-2.0 * (bright - 0.5)))  # a soft shoulder
        code = np.where(
            pressed <= 0.0031308, 12.92 * pressed, 1.055 * pressed ** (1 / 2.4) - 0.055
        )  # sRGB, IEC 61966-2-1
        self.tone = (255.0 * code).astype(np.float32)
        slope = np.gradient(self.tone, self.light)
        spread = noise * np.sqrt(6e-6 + 1.1e-4 * self.light) * slope
        self.spread = np.clip(spread, 0.3, 9.0).astype(np.float32)
        rng = np.random.default_rng([seed, 5])
        width, height = size_px
        self.grain = LUMA_GRAIN * rng.standard_normal((height + 64, width + 64), np.float32)
        self.colour_grain = CHROMA_GRAIN * rng.standard_normal((2, height // 2 + 32, width // 2 + 32), np.float32)
        self.mixed, self.half = blank(size_px).all()[:2]  # reused: fresh memory costs more than the sums
        self.picture = np.empty((height * 3 // 2, width), np.uint8)

    def codes(self, light: Image) -> Image:
        """Codes of R'G'B' (0..255, with fractions) of linear light (h, w, 3)."""
        return np.asarray(cv2.LUT(self._steps(light), self.tone), np.float32)

    def develop(self, light: Image) -> Planes:
        """Planes of linear light (h, w, 3), its sides even."""
        steps = self._steps(light)
        mixed = cv2.transform(cv2.LUT(steps, self.tone), TO_YUV)
        y = cv2.extractChannel(mixed, 0)
        if self.sharpen > 0:
            blurred = cv2.GaussianBlur(y, (2 * REACH - 1, 2 * REACH - 1), self.halo)
            y = cv2.addWeighted(y, 1.0 + self.sharpen, blurred, -self.sharpen, 0.0)
        u, v = (_left_sited(np.asarray(cv2.extractChannel(mixed, channel), np.float32)) for channel in (1, 2))
        spread = cv2.LUT(cv2.extractChannel(steps, 1), self.spread)
        return Planes(np.asarray(y, np.float32), u, v, np.asarray(spread, np.float32))

    def _steps(self, light: Image) -> "np.ndarray[tuple[int, ...], np.dtype[np.uint16]]":
        return np.asarray(cv2.multiply(light, PER_STEP, dtype=cv2.CV_16U), np.uint16)  # saturates, so white stays

    def expose(self, planes: Planes, rng: np.random.Generator, gains: Floats | None) -> Bytes:
        """The 8-bit picture of planes with fresh noise, (3 h / 2, w) as yuv420p, in a buffer that is used again.

        ``gains`` (h,) multiplies each row's light; None leaves it.
        """
        width, height = self.size_px
        top, left = 2 * int(rng.integers(0, 32)), 2 * int(rng.integers(0, 32))
        sign = 1.0 if rng.random() < 0.5 else -1.0
        grain = self.grain[top : top + height, left : left + width]
        cv2.multiply(grain, planes.spread, dst=self.mixed, scale=sign)
        luma, *chroma = split(self.picture)
        cv2.add(planes.y, self.mixed, dst=luma, dtype=cv2.CV_8U)
        half = cv2.resize(planes.spread, (width // 2, height // 2), interpolation=cv2.INTER_NEAREST)
        for code, pool, out in zip((planes.u, planes.v), self.colour_grain, chroma, strict=True):
            part = pool[top // 2 : top // 2 + height // 2, left // 2 : left // 2 + width // 2]
            cv2.multiply(part, half, dst=self.half, scale=sign)
            cv2.add(code, self.half, dst=out, dtype=cv2.CV_8U)
        if gains is not None:
            self._brighten(gains, luma, chroma)
        return self.picture

    def _brighten(self, gains: Floats, luma: Bytes, chroma: list[Bytes]) -> None:
        """Rows in bands of like gain, each through one table: 0.2 % is less than half a code."""
        steps = np.round(np.log(gains) / 0.002).astype(int)
        edges = [0, *(2 * np.unique((np.flatnonzero(np.diff(steps)) + 1) // 2)).tolist(), len(steps)]
        for top, bottom in itertools.pairwise(edges):
            if bottom == top or steps[top] == 0:
                continue
            bright, pale = self._tables(float(np.exp(0.002 * steps[top])))
            luma[top:bottom] = cv2.LUT(luma[top:bottom], bright)
            for plane in chroma:
                plane[top // 2 : bottom // 2] = cv2.LUT(plane[top // 2 : bottom // 2], pale)

    def _tables(self, gain: float) -> tuple[Bytes, Bytes]:
        """Luma and chroma codes (256,) after ``gain`` times the light."""
        code = (np.arange(256) - 16.0) * 255 / 219
        light = np.interp(code, self.tone, self.light) * gain
        luma = np.where(code > 0, 16 + np.interp(light, self.light, self.tone) * 219 / 255, np.arange(256))
        grey = float(np.interp(0.18 * gain, self.light, self.tone) / np.interp(0.18, self.light, self.tone))
        chroma = 128 + (np.arange(256) - 128.0) * grey
        low, high = (np.clip(np.round(table), 0, 255).astype(np.uint8) for table in (luma, chroma))
        return low, high


def split(picture: Bytes) -> tuple[Bytes, Bytes, Bytes]:
    """Views of the planes of a yuv420p picture (3 h / 2, w)."""
    height, width = picture.shape[0] * 2 // 3, picture.shape[1]
    rest = picture[height:].reshape(2, height // 2, width // 2)
    return picture[:height], rest[0], rest[1]


def quieten(now: Planes, still: Planes, share: float) -> None:
    """Take ``share`` of the noise out where the picture is as the still one; soft-edged, as a phone's filter is."""
    moved = cv2.blur(cv2.absdiff(now.y, still.y), (9, 9))
    keep = np.clip((1.0 - share) + moved * np.float32(share / MOVED), None, 1.0)
    np.multiply(now.spread, keep, out=now.spread)


def _left_sited(chroma: Image) -> Image:
    """Half-size chroma, its samples on every other pixel of a row, between two rows: ITU-T H.264, figure 6-1."""
    rows = cv2.add(chroma[0::2], chroma[1::2])
    out = cv2.addWeighted(rows[:, 0::2], 0.25, rows[:, 1::2], 0.125, 0.0)
    before = np.concatenate([rows[:, :1], rows[:, 1:-1:2]], axis=1)
    return np.asarray(cv2.scaleAdd(before, 0.125, out), np.float32)
