"""Light that changes within a clip: the phone meters anew, a cloud passes, lamps flicker."""

import numpy as np

from .arrays import Floats
from .lamps import flicker_light
from .optics import Optics
from .scene_spec import SceneSpec

CLOUD_HZ = 0.15  # a clip of a few seconds sees part of a cloud's passing


class Metering:
    """The brightness of one clip's rows over time."""

    def __init__(self, spec: SceneSpec, optics: Optics, index: int, length_s: float) -> None:
        rng = np.random.default_rng([spec.seed, 900 + index])
        self.spec, self.optics = spec, optics
        self.step_s = float(rng.uniform(0.1, 0.9)) * length_s
        self.ramp_s = float(rng.uniform(0.2, 0.5))
        self.drift_hz = CLOUD_HZ * float(rng.uniform(0.7, 1.4))
        self.phase = float(rng.uniform(0, 2 * np.pi))

    def gains(self, time_s: float) -> Floats | None:
        """Light of each row (h,) at a frame's clip time as a share of the unchanged; None where nothing changes."""
        spec, optics = self.spec, self.optics
        if spec.exposure_step == 0 and spec.cloud == 0 and spec.flicker == 0:
            return None
        done = np.clip((time_s - self.step_s) / self.ramp_s, 0.0, 1.0)
        gain = 1.0 + spec.exposure_step * done * done * (3.0 - 2.0 * done)
        gain *= 1.0 - spec.cloud * 0.5 * (1.0 - np.cos(2 * np.pi * self.drift_hz * time_s + self.phase))
        return np.asarray(gain * flicker_light(spec, optics, time_s))
