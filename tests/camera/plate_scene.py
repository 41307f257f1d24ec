"""Pictures of plate and boxes, drawn here from a known camera: OpenCV's projection and polygons, not the package's."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.still import Still
from balltrack.units import Floats
from tests.camera.scene import BOXES, IN, PLATE, SIZE_PX, Truth

Light = NDArray[np.float32]
FINE = 4  # sub-pixels along a pixel's side
PLATE_LOOP = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right")


@dataclass(frozen=True)
class Look:
    """How the field looks, in shares of the light that white chalk throws back, and what the phone does to it."""

    ground: float = 0.25
    patches: float = 0.25  # of the ground: one standard deviation of its blotches, a few pixels broad
    white: float = 0.85
    plate: bool = True
    boxes: tuple[str, ...] = ("left", "right")
    chalk_share: float = 1.0  # of the chalk that is left: broken into pieces
    blur_px: float = 0.8
    noise: float = 1.5  # codes
    jpeg: int | None = None
    gamma: float = 2.2
    shadow: bool = False  # over the right half of the plate
    hidden: tuple[tuple[float, float], ...] = ()  # corners [m] of a dark mat that lies on the field
    white_square: bool = False  # a towel as broad as the plate, in its place


def draw(filmed: Truth, look: Look, seed: int = 0) -> Still:
    """A still as this camera takes it."""
    rng = np.random.default_rng(seed)
    width, height = SIZE_PX
    blotches = cv2.GaussianBlur(rng.normal(size=(height, width)).astype(np.float32), (0, 0), 3.0)
    light = np.asarray(look.ground * (1.0 + look.patches * blotches / blotches.std()), np.float32)
    light[: max(_horizon(filmed), 0)] = 0.6
    light = _over(light, _chalk(filmed, look, rng), look.white)
    if look.plate:
        light = _over(light, _cover(filmed, np.array([PLATE[name][:2] for name in PLATE_LOOP])), look.white)
    if look.white_square:
        square = np.array([(-8.5 * IN, 0), (-8.5 * IN, 17 * IN), (8.5 * IN, 17 * IN), (8.5 * IN, 0)])
        light = _over(light, _cover(filmed, square), look.white)
    if look.shadow:
        shade = np.array([(0.05, -2), (0.05, 3), (3.0, 3), (3.0, -2)])
        light = np.asarray(light * (1.0 - 0.6 * _cover(filmed, shade)), np.float32)
    if look.hidden:
        light = _over(light, _cover(filmed, np.array(look.hidden)), 0.05)
    return _develop(np.asarray(light, np.float32), look, rng)


def _develop(light: Light, look: Look, rng: np.random.Generator) -> Still:
    blurred = np.asarray(cv2.GaussianBlur(light, (0, 0), look.blur_px))
    codes = 255.0 * np.clip(blurred, 0.0, 1.0) ** (1.0 / look.gamma) + rng.normal(0.0, look.noise, light.shape)
    luma = np.clip(np.round(codes), 0, 255).astype(np.uint8)
    if look.jpeg is not None:
        packed = cv2.imencode(".jpg", luma, [cv2.IMWRITE_JPEG_QUALITY, look.jpeg])[1]
        luma = np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), np.uint8)
    grey = np.full((luma.shape[0] // 2, luma.shape[1] // 2), 128, np.uint8)
    return Still(luma, grey, grey)


def _horizon(filmed: Truth) -> int:
    far = filmed.see(np.array([[0.0, 300.0, 0.0]]))
    return round(float(far[0, 1])) if np.isfinite(far).all() and abs(far[0, 0]) < 2 * SIZE_PX[0] else 0


def _over(light: Light, cover: Light, white: float) -> Light:
    return np.asarray(light * (1.0 - cover) + white * cover, np.float32)


def _chalk(filmed: Truth, look: Look, rng: np.random.Generator) -> Light:
    """Lines three inches broad within the boxes' outside corners."""
    cover = np.zeros((SIZE_PX[1], SIZE_PX[0]), np.float32)
    for side in look.boxes:
        corners = ("inner_back", "inner_front", "outer_front", "outer_back")
        outer = np.array([BOXES[f"{side}_box_{corner}"][:2] for corner in corners])
        middle = outer.mean(axis=0)
        inner = outer - 3 * IN * np.sign(outer - middle)
        cover = np.maximum(cover, _cover(filmed, outer) - _cover(filmed, inner))
    if look.chalk_share < 1.0:
        gaps = cv2.GaussianBlur(rng.normal(size=cover.shape).astype(np.float32), (0, 0), 5.0)
        cover = np.asarray(cover * (gaps < np.quantile(gaps, look.chalk_share)), np.float32)
    return cover


def _cover(filmed: Truth, polygon: Floats) -> Light:
    """(h, w) share of each pixel that a polygon on the ground covers; its sides bend as the lens bends them."""
    shares = np.linspace(0.0, 1.0, 40, endpoint=False)[:, None]
    sides = [a + shares * (b - a) for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True)]
    flat = np.concatenate(sides)
    pixels = filmed.see(np.column_stack([flat, np.zeros(len(flat))]))
    low = np.clip(np.floor(pixels.min(axis=0)).astype(int) - 1, 0, np.array(SIZE_PX) - 1)
    high = np.clip(np.ceil(pixels.max(axis=0)).astype(int) + 2, low + 1, SIZE_PX)
    mask = np.zeros(((high - low)[::-1] * FINE).tolist(), np.uint8)
    # A sub-pixel's centre: pixel p spans sub-pixels 4 p to 4 p + 3, their middle at 4 p + 1.5.
    cv2.fillPoly(mask, [np.round(((pixels - low) * FINE + (FINE - 1) / 2) * 16).astype(np.int32)], 255, shift=4)
    whole = np.zeros((SIZE_PX[1], SIZE_PX[0]), np.float32)
    shrunk = cv2.resize(mask, (high - low).tolist(), interpolation=cv2.INTER_AREA)
    whole[low[1] : high[1], low[0] : high[0]] = shrunk / np.float32(255.0)
    return whole
