"""Lamps on alternating current: light that comes and goes twice a period, seen row by row."""

import numpy as np

from .arrays import Image
from .optics import Optics, row_time
from .scene_spec import SceneSpec


def flicker_codes(spec: SceneSpec, optics: Optics, time_s: float) -> Image | None:
    """Factor on each row's codes (h, 1, 1) in the frame at ``time_s``; None where light is steady."""
    if spec.flicker <= 0:
        return None
    height = optics.size_px[1]
    middle = row_time(time_s, np.arange(height, dtype=np.float64), 0.5, optics)
    # A longer exposure averages the waves: sin(pi f T) / (pi f T).
    swing = spec.flicker * np.sinc(spec.flicker_hz * optics.exposure_s)
    light = 1.0 + swing * np.cos(2 * np.pi * spec.flicker_hz * middle)
    return np.asarray(light[:, None, None] ** (1 / 2.2), np.float32)  # codes grow with about that power of light
