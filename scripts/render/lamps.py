"""Lamps on alternating current: light that comes and goes twice a period, seen row by row."""

import numpy as np

from .arrays import Floats
from .optics import Optics, row_time
from .scene_spec import SceneSpec


def flicker_light(spec: SceneSpec, optics: Optics, time_s: float) -> Floats:
    """Factor on each row's light (h,) in the frame at ``time_s``."""
    height = optics.size_px[1]
    middle = row_time(time_s, np.arange(height, dtype=np.float64), 0.5, optics)
    # A longer exposure averages the waves: sin(pi f T) / (pi f T).
    swing = spec.flicker * np.sinc(spec.flicker_hz * optics.exposure_s)
    return np.asarray(1.0 + swing * np.cos(2 * np.pi * spec.flicker_hz * middle))
