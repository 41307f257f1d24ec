"""Painting moving things into a frame in linear light: tapered limbs with shading, soft shadows, sphere streaks."""

from dataclasses import dataclass

import cv2
import numpy as np

from .arrays import Floats, Image
from .textures import SIDE

SMOOTH_PX = 4.0  # radius below which no weave shows

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
    span = (ends[1] - ends[0]).astype(np.float32)
    length2 = max(float(span @ span), 1e-6)
    x = np.arange(left, right, dtype=np.float32)[None] - np.float32(ends[0, 0])
    y = np.arange(top, bottom, dtype=np.float32)[:, None] - np.float32(ends[0, 1])
    free = x * (span[0] / np.float32(length2)) + y * (span[1] / np.float32(length2))
    share = np.clip(free, 0, 1)
    dx, dy = x - share * span[0], y - share * span[1]
    radius = np.float32(radii[0]) + share * np.float32(radii[1] - radii[0])
    away = np.sqrt(dx * dx + dy * dy)
    cover = np.clip((radius - away) * np.float32(0.5 / soft) + np.float32(0.5), 0, 1)
    if limb.flat >= 0:
        cover = cover * _cut_ends(x, y, free, ends, radius, limb.flat)
    scale = np.float32(1) / np.maximum(radius, np.float32(0.3))
    nx, ny = dx * scale, dy * scale
    shape = _Surface(nx, ny, share * np.float32(np.sqrt(length2) / max(*radii, 1.0)), cover)
    return Patch(window, _shaded(shape, limb, light, noise, max(radii)), cover)


@dataclass(frozen=True, slots=True, eq=False)
class _Surface:
    nx: Image  # of the unit normal, image right
    ny: Image  # image down
    along: Image  # from the limb's start, in radii
    cover: Image


def _shaded(at: _Surface, limb: Limb, light: tuple[Floats, Floats, Floats], noise: Image, radius_px: float) -> Image:
    """Light that comes from a limb, times its cover; (h, w, 3)."""
    toward, direct, ambient = (part.astype(np.float32) for part in light)
    nz = np.sqrt(np.clip(1 - at.nx * at.nx - at.ny * at.ny, np.float32(0.02), 1))
    lambert = np.maximum(at.nx * toward[0] + at.ny * toward[1] - nz * toward[2], 0)
    dome = np.float32(0.60) - np.float32(0.40) * at.ny
    weight = at.cover
    if limb.texture > 0 and radius_px > SMOOTH_PX:
        row = (at.along * 12 + np.float32(limb.seed * 37)).astype(np.int32) & (SIDE - 1)
        column = ((at.nx - at.ny) * 10 + np.float32(limb.seed * 91)).astype(np.int32) & (SIDE - 1)
        grain = noise.take(row * SIDE + column)
        weight = weight * (1 + np.float32(limb.texture * min(radius_px / 40.0, 1.0)) * grain)
    lambert, dome = lambert * weight, dome * weight
    colour = limb.colour.astype(np.float32)
    planes = [lambert * (direct[c] * colour[c]) + dome * (ambient[c] * colour[c]) for c in range(3)]
    if limb.gloss > 0:
        shine = np.minimum(lambert, 1) ** 24 * np.float32(limb.gloss) * at.cover
        planes = [plane + shine * direct[c] for c, plane in enumerate(planes)]
    return np.asarray(cv2.merge(planes), np.float32)


def _cut_ends(x: Image, y: Image, free: Image, ends: Floats, radius: Image, flat: float) -> Image:
    """Cover that ends at the rims of a standing can instead of in round caps; ``x``, ``y`` from the start."""
    span = ends[1] - ends[0]
    length = float(np.hypot(*span))
    side = (-span[1] * x + span[0] * y) / length
    bulge = flat * radius * np.sqrt(np.clip(1 - (side / np.maximum(radius, 0.3)) ** 2, 0, 1))
    return np.asarray(
        np.clip(free * length + bulge + 0.5, 0, 1) * np.clip(length + bulge - free * length + 0.5, 0, 1), np.float32
    )


def lay(canvas: Image, patch: Patch) -> None:
    """Lay a patch over the canvas, in place."""
    top, bottom, left, right = patch.window
    view = canvas[top:bottom, left:right]
    keep = np.float32(1.0) - patch.cover
    cv2.multiply(view, cv2.merge([keep, keep, keep]), dst=view)
    if not patch.shade:
        cv2.add(view, patch.colour, dst=view)


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
