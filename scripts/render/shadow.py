"""Shadows on the ground: along the sun's rays, or a faint one straight below under a bright sky."""

import numpy as np

from .arrays import Floats, Image
from .brush import Limb, Patch, Window, window_of
from .optics import Optics, depths, project
from .sun import Sun

SUNNY = 0.3  # share of direct light above which shadows follow the sun
LARGEST = 1_500_000  # pixels; a larger shadow fills the view and shows no edge


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
    soft = (0.02 * heights + 0.006 if sunny else 0.25 * heights + 0.05) * scale[0::2]
    fade = np.ones(len(limbs)) if sunny else np.exp(-heights / 0.6)
    cover = _union(window, pixels, (radii * scale)[0::2], squash[0::2], np.stack([soft, fade], axis=1))
    strength = np.float32(0.85 * sun.casts if sunny else 0.35)
    return Patch(window, np.zeros((*cover.shape, 3), np.float32), cover * strength, shade=True)


def _union(window: Window, pixels: Floats, radii_px: Floats, squash: Floats, soft_fade: Floats) -> Image:
    """Darkest of the limbs' soft strips, in ground that the view squashes."""
    top, bottom, left, right = window
    y, x = np.mgrid[top:bottom, left:right].astype(np.float32)
    cover = np.zeros(x.shape, np.float32)
    for index, (soft, fade) in enumerate(soft_fade):
        a, b = pixels[2 * index], pixels[2 * index + 1]
        tall = np.float32(squash[index])
        span_x, span_y = np.float32(b[0] - a[0]), np.float32(b[1] - a[1]) * tall
        dx, dy = x - np.float32(a[0]), (y - np.float32(a[1])) * tall
        along = np.clip((dx * span_x + dy * span_y) / max(float(span_x**2 + span_y**2), 1e-6), 0, 1)
        gap = np.hypot(dx - along * span_x, dy - along * span_y) - np.float32(radii_px[index])
        dark = np.float32(fade) * np.clip(0.5 - gap / np.float32(2 * max(soft, 0.8)), 0, 1)
        np.maximum(cover, dark, out=cover)
    return cover
