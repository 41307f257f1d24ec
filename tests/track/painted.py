"""Pictures of a moving ball painted without the package: many shifted shaded discs, averaged in linear light.

The way of a phone's picture: light adds up over the exposure on a fine grid, the lens blurs it, pixels take its mean,
a gamma curve codes it, BT.709 makes brightness and colour of it, colour is stored at half the resolution, noise comes
on top. What differs from phone to phone stands in `Phone`.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from balltrack.detect.background import Background, Bytes, median_background
from balltrack.units import Floats
from balltrack.video.frames import Frame

FINE = 4  # points across a pixel
# Reflectances in linear light: an optic yellow ball, a white one, and grass (judgement from photographs, no source).
OPTIC = (0.62, 0.80, 0.06)
WHITE = (0.82, 0.82, 0.79)
GRASS = (0.07, 0.14, 0.04)
SHIRT = (0.10, 0.12, 0.35)


@dataclass(frozen=True)
class Phone:
    """How light becomes a picture. Noise is that of a good phone in daylight."""

    lens_sigma_px: float = 0.6
    gamma: float = 2.2  # of light over code
    luma_noise: float = 1.5  # sd in code values, as of the colours
    chroma_noise: float = 0.8
    # Colour samples on even columns (the left siting of H.264 and HEVC), or between columns (JPEG, many encoders).
    colour_on_columns: bool = True
    sharpening: float = 0.0  # share of the difference from its blur (sigma 1 px) that is added to brightness


PHONE = Phone()


@dataclass(frozen=True)
class Ball:
    """A ball of ``diameter_px`` that moves by ``streak_px`` while the shutter is open, about ``centre_px``."""

    centre_px: tuple[float, float]
    diameter_px: float
    streak_px: tuple[float, float] = (0.0, 0.0)
    colour: tuple[float, float, float] = OPTIC
    sun: tuple[float, float, float] = (-0.4, -0.7, 0.6)  # u, v, towards the camera
    ambient: float = 0.35  # share of light that also reaches the shaded side
    highlight: float = 0.0  # light of a mirrored sun at its brightest: a glossy new ball has one
    seams: float = 0.0  # share of light that a dark figure-of-eight seam takes


@dataclass(frozen=True, eq=False)  # arrays break generated ==
class Scene:
    """A field to paint on."""

    size_px: tuple[int, int] = (160, 160)  # width, height; even
    seed: int = 0
    texture: float = 0.25  # relative contrast of the grass, one sd
    ground: tuple[float, float, float] = GRASS
    beyond: tuple[float, float, float] | None = None  # ground right of the middle column: a fence, a wall, sky
    phone: Phone = PHONE
    light: Floats = field(init=False, repr=False)  # (h, w, 3) at pixel resolution

    def __post_init__(self) -> None:
        width, height = self.size_px
        rng = np.random.default_rng([self.seed, 1])
        blades = sum(cv2.GaussianBlur(rng.normal(size=(height, width)), (0, 0), s) * 2 * s for s in (0.7, 2.0, 6.0))
        blades = np.clip(1 + self.texture * blades / np.std(blades), 0.2, 3.0)
        ground = np.ones((height, width, 1)) * np.array(self.ground)
        if self.beyond is not None:
            ground[:, width // 2 :] = self.beyond
        object.__setattr__(self, "light", np.asarray(blades[..., None] * ground))


def paint(scene: Scene, balls: tuple[Ball, ...] = (), seed: int = 0, gain: float = 1.0, time_s: float = 0.0) -> Frame:
    """One noisy frame of the scene with balls in it; ``gain`` is the phone's exposure."""
    light = scene.light.copy()
    for ball in balls:
        window = _window(ball, scene.size_px)
        cover, shine = _swept(ball, window, scene.phone.lens_sigma_px)
        light[window] = light[window] * (1 - cover[..., None]) + shine
    return develop(light * gain, seed, time_s, scene.phone)


def empty_field(scene: Scene, frames: int = 9) -> Background:
    """The empty scene as the package learns it, from noisy frames."""
    return median_background([paint(scene, seed=1000 + k) for k in range(frames)])


def cover_right_of(
    frame: Frame, column: int, scene: Scene, seed: int, shirt: tuple[float, float, float] = SHIRT
) -> Frame:
    """The same frame behind somebody whose edge stands at a column."""
    light = np.zeros((*frame.luma.shape, 3)) + np.array(shirt)
    somebody = develop(light * np.linspace(0.8, 1.2, scene.size_px[1])[:, None, None], seed, 0.0, scene.phone)
    luma, cb, cr = frame.luma.copy(), frame.cb.copy(), frame.cr.copy()
    luma[:, column:], cb[:, column // 2 :], cr[:, column // 2 :] = (
        somebody.luma[:, column:],
        somebody.cb[:, column // 2 :],
        somebody.cr[:, column // 2 :],
    )
    return Frame(frame.index, frame.time_s, luma, cb, cr)


def develop(light: Floats, seed: int, time_s: float, phone: Phone = PHONE) -> Frame:
    """From linear light (h, w, 3) to the planes of a phone's file."""
    rng = np.random.default_rng([seed, 2])
    red, green, blue = np.moveaxis(np.clip(light, 0.0, 1.0) ** (1 / phone.gamma), 2, 0)
    bright = 0.2126 * red + 0.7152 * green + 0.0722 * blue  # ITU-R BT.709
    luma = 16 + 219 * bright
    luma = luma + phone.sharpening * (luma - cv2.GaussianBlur(luma, (0, 0), 1.0))
    cb, cr = 128 + 224 * (blue - bright) / 1.8556, 128 + 224 * (red - bright) / 1.5748
    planes = [_coded(luma + rng.normal(0, phone.luma_noise, luma.shape))]
    for plane in (cb, cr):
        halved = _halved(plane, phone)
        planes.append(_coded(halved + rng.normal(0, phone.chroma_noise, halved.shape)))
    return Frame(0, time_s, *planes)


def _halved(plane: Floats, phone: Phone) -> Floats:
    """A colour at half the resolution."""
    rows = (plane[0::2] + plane[1::2]) / 2
    if not phone.colour_on_columns:
        return np.asarray((rows[:, 0::2] + rows[:, 1::2]) / 2)
    before = np.concatenate([rows[:, :1], rows[:, :-1]], axis=1)
    after = np.concatenate([rows[:, 1:], rows[:, -1:]], axis=1)
    return np.asarray(((before + 2 * rows + after) / 4)[:, 0::2])


def _coded(values: Floats) -> Bytes:
    return np.asarray(np.rint(np.clip(values, 0, 255)), dtype=np.uint8)


def _window(ball: Ball, size_px: tuple[int, int]) -> tuple[slice, slice]:
    """Rows and columns of the picture that the ball and its blur can reach."""
    reach = ball.diameter_px / 2 + 4
    spans = []
    for middle, run, most in zip(ball.centre_px[::-1], ball.streak_px[::-1], size_px[::-1], strict=True):
        low, high = middle - abs(run) / 2 - reach, middle + abs(run) / 2 + reach
        spans.append(slice(int(np.clip(np.floor(low), 0, most)), int(np.clip(np.ceil(high), 0, most))))
    return spans[0], spans[1]


def _swept(ball: Ball, window: tuple[slice, slice], lens_sigma_px: float) -> tuple[Floats, Floats]:
    """Share of the exposure (h, w) for which the ball covers each pixel, and its light there (h, w, 3)."""
    height, width = (span.stop - span.start for span in window)
    if not height or not width:
        return np.zeros((height, width)), np.zeros((height, width, 3))
    cover, shine = np.zeros((height * FINE, width * FINE)), np.zeros((height * FINE, width * FINE, 3))
    streak, corner = np.array(ball.streak_px), np.array([window[1].start, window[0].start])
    count = max(round(2 * float(np.hypot(*streak))), 1)
    for k in range(count):
        u, v = np.array(ball.centre_px) - corner + streak * ((k + 0.5) / count - 0.5)
        _add_disc(cover, shine, (u, v), ball)
    seen = [_seen(each / count, (width, height), lens_sigma_px) for each in (cover, shine)]
    return seen[0], seen[1]


def _seen(fine: Floats, size_px: tuple[int, int], lens_sigma_px: float) -> Floats:
    blurred = cv2.GaussianBlur(fine, (0, 0), lens_sigma_px * FINE)
    return np.asarray(cv2.resize(blurred, size_px, interpolation=cv2.INTER_AREA), dtype=np.float64)


def _add_disc(cover: Floats, shine: Floats, centre_px: tuple[float, float], ball: Ball) -> None:
    radius = ball.diameter_px / 2
    middle = (np.array(centre_px) + 0.5) * FINE - 0.5  # fine pixels; the centre of a pixel is a whole number
    reach = int(np.ceil(radius * FINE)) + 1
    left, top = (int(x) - reach for x in np.floor(middle))
    rows, columns = slice(max(top, 0), max(top + 2 * reach + 2, 0)), slice(max(left, 0), max(left + 2 * reach + 2, 0))
    shape = cover[rows, columns].shape
    u = (np.arange(shape[1]) + columns.start - middle[0]) / (radius * FINE)
    v = ((np.arange(shape[0]) + rows.start - middle[1]) / (radius * FINE))[:, None]
    inside = u * u + v * v < 1.0
    cover[rows, columns] += inside
    shine[rows, columns] += inside[..., None] * _light(ball, u, v)


def _light(ball: Ball, u: Floats, v: Floats) -> Floats:
    """(h, w, 3) light of a matt ball (Lambert), with Blinn and Phong's gloss, at u, v radii from its centre."""
    height = np.sqrt(np.clip(1 - u * u - v * v, 0, 1))
    sun = np.array(ball.sun) / np.linalg.norm(ball.sun)
    lit = ball.ambient + (1 - ball.ambient) * np.clip(u * sun[0] + v * sun[1] + height * sun[2], 0, 1)
    if ball.seams:  # two arcs that bow to the middle, a tenth of the radius wide
        lit = lit * (1 - ball.seams * (np.abs(np.hypot(np.abs(u) - 1.1, v) - 0.7) < 0.05))
    light = lit[..., None] * np.array(ball.colour)
    if ball.highlight:
        half = sun + np.array([0.0, 0.0, 1.0])  # between the sun and the camera
        half /= np.linalg.norm(half)
        light += (ball.highlight * np.clip(u * half[0] + v * half[1] + height * half[2], 0, 1) ** 60)[..., None]
    return np.asarray(light)
