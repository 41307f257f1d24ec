"""Shadows on the ground: along the sun's rays, or a faint one straight below under a bright sky."""

import cv2
import numpy as np

from .arrays import Floats, Image
from .brush import Limb, Patch, Window, window_of
from .optics import Optics, depths, project
from .sun import Sun

SUNNY = 0.3  # share of direct light above which shadows follow the sun
LARGEST = 1_500_000  # pixels; a larger shadow fills the view and shows no edge
COARSEST = 6  # pixels of the frame to one of a soft shadow's mask


def shadow_patch(limbs: list[Limb], sun: Sun, optics: Optics) -> Patch | None:
    """One patch for all limbs: overlapping shadows of one body must not darken twice."""
    sunny = sun.casts > SUNNY
    slope = sun.toward[:2] / max(float(sun.toward[2]), 0.12) if sunny else np.zeros(2)
    tops = np.array([point for limb in limbs for point in (limb.start_m, limb.end_m)])
    radii = np.repeat([max(limb.start_radius_m, limb.end_radius_m) for limb in limbs], 2)
    feet = np.concatenate([tops[:, :2] - tops[:, 2:] * slope, np.zeros((len(tops), 1))], axis=1)
    far = depths(feet, optics)
    if far.min() < 0.4:
        return None
    pixels, scale = project(feet, optics), optics.focal_px / far
    window = window_of(pixels, float((2 * scale * radii).max() + 3), optics.size_px)
    if window is None or (window[1] - window[0]) * (window[3] - window[2]) > LARGEST:
        return None
    away = np.linalg.norm(feet - optics.position_m, axis=1)
    squash = 1.0 / np.clip(optics.position_m[2] / away, 0.08, 1.0)
    heights = 0.5 * (tops[0::2, 2] + tops[1::2, 2])
    soft = np.maximum((0.02 * heights + 0.006 if sunny else 0.25 * heights + 0.05) * scale[0::2], 0.8)
    fade = np.ones(len(limbs)) if sunny else np.exp(-heights / 0.6)
    step = int(np.clip((soft / squash[0::2]).min(), 1, COARSEST))
    strips = np.stack([*pixels[0::2].T, *pixels[1::2].T, (radii * scale)[0::2], squash[0::2], soft, fade], axis=1)
    strength = np.float32(0.85 * sun.casts if sunny else 0.35)
    cover = _mask(window, strips, step) * strength
    return Patch(window, np.zeros((0, 0, 3), np.float32), cover, shade=True)


def _mask(window: Window, strips: Floats, step: int) -> Image:
    """Darkest of soft strips (start, end, radius, squash, softness, darkness), drawn at every ``step``-th pixel."""
    top, bottom, left, right = window
    height, width = -(-(bottom - top) // step) + 1, -(-(right - left) // step) + 1
    small = np.zeros((height, width), np.float32)
    # A mask's pixel stands for the middle of step x step pixels.
    origin = np.array([left, top]) + 0.5 * (step - 1)
    for strip in strips:
        _darken(small, (strip[:2] - origin) / step, (strip[2:4] - origin) / step, strip[4:] / [step, 1, step, 1])
    if step == 1:
        return small[: bottom - top, : right - left]
    large = cv2.resize(small, (width * step, height * step), interpolation=cv2.INTER_LINEAR)
    return np.asarray(large[: bottom - top, : right - left], np.float32)


def _darken(mask: Image, start: Floats, end: Floats, shape: Floats) -> None:
    """Draw one strip, within its own box only; ground that the view squashes is measured as if seen from above."""
    radius, tall, soft, fade = (np.float32(part) for part in shape)
    reach = radius + soft
    reach_px = np.array([reach, reach / tall])
    low = np.floor(np.minimum(start, end) - reach_px).astype(int)
    high = np.ceil(np.maximum(start, end) + reach_px).astype(int) + 1
    left, top = np.maximum(low, 0)
    right, bottom = np.minimum(high, mask.shape[::-1])
    if right <= left or bottom <= top:
        return
    dx = np.arange(left, right, dtype=np.float32)[None] - np.float32(start[0])
    dy = (np.arange(top, bottom, dtype=np.float32)[:, None] - np.float32(start[1])) * tall
    span_x, span_y = np.float32(end[0] - start[0]), np.float32(end[1] - start[1]) * tall
    length2 = max(span_x * span_x + span_y * span_y, np.float32(1e-6))
    along = np.clip(dx * (span_x / length2) + dy * (span_y / length2), 0, 1)
    gap = cv2.magnitude(dx - along * span_x, dy - along * span_y)
    slope = fade * np.float32(0.5) / soft
    dark = np.clip((np.float32(0.5) * fade + slope * radius) - slope * gap, 0, fade)
    view = mask[top:bottom, left:right]
    np.maximum(view, dark, out=view)
