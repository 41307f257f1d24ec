"""Painting moving things into a frame in linear light: tapered limbs with shading, soft shadows, sphere streaks."""

from dataclasses import dataclass

import numpy as np

from .arrays import Floats, Image
from .textures import SIDE

Window = tuple[int, int, int, int]  # top, bottom, left, right


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """A small picture to lay over the frame: colour already multiplied by cover."""

    window: Window
    colour: Image  # (h, w, 3)
    cover: Image  # (h, w) 0..1
    shade: bool = False  # darken instead of cover


def window_of(points: Floats, margin: float, size_px: tuple[int, int]) -> Window | None:
    """The frame's part within ``margin`` of pixel points (n, 2); None where it lies outside the frame."""
    if not np.isfinite(points).all():
        return None
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    left, top = int(max(np.floor(low[0]), 0)), int(max(np.floor(low[1]), 0))
    right, bottom = int(min(np.ceil(high[0]) + 1, size_px[0])), int(min(np.ceil(high[1]) + 1, size_px[1]))
    return (top, bottom, left, right) if bottom > top and right > left else None


@dataclass(frozen=True, slots=True, eq=False)
class Limb:
    """A tapered round limb between two field points."""

    start_m: Floats
    end_m: Floats
    start_radius_m: float
    end_radius_m: float
    colour: Floats  # (3,) linear albedo
    texture: float = 0.12  # strength of the cloth's noise
    gloss: float = 0.0
    seed: int = 0
    flat: float = -1.0  # -1: round ends; else cut ends, whose rims show as ellipses this flat
    thin_axis: tuple[float, float, float] = (0.0, 0.0, 0.0)  # a trunk is less deep than wide: its facing ...
    thin: float = 1.0  # ... and its depth over its width


def limb_patch(
    ends: Floats, radii: tuple[float, float], limb: Limb, light: tuple[Floats, Floats, Floats], noise: Image,
    size_px: tuple[int, int], soft: float = 0.8,
) -> Patch | None:  # fmt: skip
    """A limb between two pixels with pixel radii. ``light``: sun direction in camera axes, direct, ambient."""
    window = window_of(ends, max(radii) + 2.0, size_px)
    if window is None:
        return None
    top, bottom, left, right = window
    y, x = np.mgrid[top:bottom, left:right].astype(np.float32)
    span = ends[1] - ends[0]
    length2 = max(float(span @ span), 1e-6)
    share = (x - np.float32(ends[0, 0])) * np.float32(span[0]) + (y - np.float32(ends[0, 1])) * np.float32(span[1])
    free = share / np.float32(length2)
    share = np.clip(free, 0, 1)
    dx = x - np.float32(ends[0, 0]) - share * np.float32(span[0])
    dy = y - np.float32(ends[0, 1]) - share * np.float32(span[1])
    radius = np.float32(radii[0]) + share * np.float32(radii[1] - radii[0])
    away = np.sqrt(dx * dx + dy * dy)
    cover = np.clip((radius - away) / np.float32(2 * soft) + 0.5, 0, 1)
    if limb.flat >= 0:
        cover = cover * _cut_ends(x, y, free, ends, radius, limb.flat)
    nx, ny = dx / np.maximum(radius, 0.3), dy / np.maximum(radius, 0.3)
    nz = np.sqrt(np.clip(1 - nx * nx - ny * ny, 0.02, 1))
    toward, direct, ambient = light
    lambert = np.clip(nx * np.float32(toward[0]) + ny * np.float32(toward[1]) - nz * np.float32(toward[2]), 0, None)
    dome = 0.60 - 0.40 * ny
    if limb.texture > 0:
        along = share * np.float32(np.sqrt(length2)) / np.float32(max(max(radii), 1.0))
        row = (along * 12 + limb.seed * 37).astype(np.int64) % SIDE
        column = ((nx - ny) * 10 + limb.seed * 91).astype(np.int64) % SIDE
        grain = 1 + np.float32(limb.texture * min(max(radii) / 40.0, 1.0)) * noise[row, column]
        lambert, dome = lambert * grain, dome * grain
    colour = lambert[..., None] * direct.astype(np.float32) + dome[..., None] * ambient.astype(np.float32)
    colour = colour * limb.colour.astype(np.float32)
    if limb.gloss > 0:
        shine = np.clip(lambert, 0, 1) ** 24 * np.float32(limb.gloss)
        colour = colour + shine[..., None] * direct.astype(np.float32)
    return Patch(window, (colour * cover[..., None]).astype(np.float32), cover.astype(np.float32))


def _cut_ends(x: Image, y: Image, free: Image, ends: Floats, radius: Image, flat: float) -> Image:
    """Cover that ends at the rims of a standing can instead of in round caps."""
    span = ends[1] - ends[0]
    length = float(np.hypot(*span))
    side = (-span[1] * (x - ends[0, 0]) + span[0] * (y - ends[0, 1])) / length
    bulge = flat * radius * np.sqrt(np.clip(1 - (side / np.maximum(radius, 0.3)) ** 2, 0, 1))
    return np.asarray(
        np.clip(free * length + bulge + 0.5, 0, 1) * np.clip(length + bulge - free * length + 0.5, 0, 1), np.float32
    )


def lay(canvas: Image, patch: Patch) -> None:
    """Lay a patch over the canvas, in place."""
    top, bottom, left, right = patch.window
    view = canvas[top:bottom, left:right]
    view *= 1.0 - patch.cover[..., None]
    if not patch.shade:
        view += patch.colour


def average(patches: list[Patch]) -> Patch | None:
    """Time average of patches: what a moving thing leaves on the sensor."""
    if not patches:
        return None
    edges = np.array([patch.window for patch in patches])
    top, bottom, left, right = edges[:, 0].min(), edges[:, 1].max(), edges[:, 2].min(), edges[:, 3].max()
    colour = np.zeros((bottom - top, right - left, 3), np.float32)
    cover = np.zeros((bottom - top, right - left), np.float32)
    for patch in patches:
        a, b, c, d = patch.window
        colour[a - top : b - top, c - left : d - left] += patch.colour
        cover[a - top : b - top, c - left : d - left] += patch.cover
    share = np.float32(1 / len(patches))
    np.multiply(colour, share, out=colour)
    np.multiply(cover, share, out=cover)
    return Patch((int(top), int(bottom), int(left), int(right)), colour, cover)
