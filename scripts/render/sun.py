"""Light of the hour: direction, colour and strength of sun and sky, and the camera's exposure to it."""

from dataclasses import dataclass

import numpy as np

from .arrays import Floats
from .scene_spec import SceneSpec


@dataclass(frozen=True, slots=True, eq=False)
class Sun:
    """Illumination in linear light; a white wall that faces the sun shows as ``direct + ambient``."""

    toward: Floats  # (3,) unit vector to the sun
    direct: Floats  # (3,) rgb
    ambient: Floats  # (3,) rgb
    sky_zenith: Floats
    sky_horizon: Floats
    cloud: Floats
    cloud_cover: float

    @property
    def casts(self) -> float:
        """How dark shadows are, 0..1."""
        return float(self.direct.mean() / (self.direct.mean() + self.ambient.mean()))


def sun_of(spec: SceneSpec) -> Sun:
    """The lesson's light."""
    azimuth, height = np.radians(spec.sun_azimuth_deg), np.radians(spec.sun_elevation_deg)
    toward = np.array([np.sin(azimuth) * np.cos(height), np.cos(azimuth) * np.cos(height), np.sin(height)])
    if spec.light == "sun":
        return Sun(
            toward, np.array([0.98, 0.92, 0.80]), np.array([0.22, 0.26, 0.34]), np.array([0.16, 0.34, 0.72]),
            np.array([0.55, 0.70, 0.88]), np.array([0.95, 0.95, 0.95]), 0.35,
        )  # fmt: skip
    if spec.light == "overcast":
        return Sun(
            toward, np.array([0.10, 0.10, 0.10]), np.array([0.66, 0.68, 0.72]), np.array([0.60, 0.64, 0.70]),
            np.array([0.80, 0.83, 0.86]), np.array([0.88, 0.89, 0.90]), 0.8,
        )  # fmt: skip
    if spec.light == "lamps":
        white, level = np.array([0.5, 0.5, 0.5]), 1.0 if spec.venue == "gym" else 0.72
        tint = 1.0 + np.array([0.03, 0.0, -0.04]) * np.random.default_rng([spec.seed, 53]).uniform(-1, 1)
        return Sun(
            np.array([0.0, 0.0, 1.0]), 0.30 * level * tint, 0.95 * level * tint, white, white, white, 0.0
        )  # many lamps overhead: light from everywhere, a little more from above
    return Sun(
        toward, np.array([0.62, 0.40, 0.20]), np.array([0.20, 0.22, 0.32]), np.array([0.14, 0.20, 0.42]),
        np.array([0.75, 0.50, 0.32]), np.array([0.80, 0.55, 0.42]), 0.4,
    )  # fmt: skip


def lit(normal: Floats, sun: Sun) -> Floats:
    """Irradiance rgb on surfaces with normals (..., 3); the ground gives back a little light from below."""
    facing = np.clip(normal @ sun.toward, 0.0, None)[..., None]
    dome = (0.62 + 0.38 * normal[..., 2])[..., None]
    return np.asarray(facing * sun.direct + dome * sun.ambient)
