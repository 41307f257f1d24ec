"""The phone as it will film: lens, picture, rate, shutter; and how sharply it then sees a moving ball."""

from dataclasses import dataclass
from math import radians

import numpy as np

from balltrack.camera.marks import LensPrior, ReadoutPrior
from balltrack.camera.model import focal_of_fov_px
from balltrack.camera.solve import PHONE_FOV_DEG
from balltrack.units import Floats

WIDE = 16 / 9  # phones film video in this shape
MAIN_LENS_FOV_DEG = PHONE_FOV_DEG
# How surely a ball's centre and diameter can be read off a frame, one sd: a quarter of a pixel for a sharp ball, half
# a pixel once it is drawn out over three diameters, and so on in proportion: its light is then spread thin and its
# ends are soft (judgement from rendered and filmed balls, no source; docs/accuracy.md takes the same).
SHARP_SD_PX, BLURRED_SD_PX, BLURRED = 0.25, 0.5, 3.0


@dataclass(frozen=True, slots=True)
class Phone:
    """A phone, upright frame lying on its long side."""

    fov_rad: float = radians(MAIN_LENS_FOV_DEG)  # from the left edge of the picture to the right
    lens_share_sd: float | None = None  # how surely the focal length is known; None: only from the marks
    k1_sd: float = LensPrior().k1_sd  # of the lens's distortion
    lines: int = 1080
    frames_per_s: float = 60.0
    shutter_s: float = 1 / 1000

    @property
    def size_px(self) -> tuple[int, int]:
        """Width, height."""
        return round(self.lines * WIDE), self.lines

    @property
    def focal_px(self) -> float:
        return focal_of_fov_px(self.fov_rad, self.size_px[0])

    @property
    def lens(self) -> LensPrior:
        """What will be known of the lens before the field is marked."""
        if self.lens_share_sd is None:
            return LensPrior(k1_sd=self.k1_sd)
        return LensPrior(self.focal_px, self.lens_share_sd * self.focal_px, k1_sd=self.k1_sd)

    @property
    def readout(self) -> ReadoutPrior:
        return ReadoutPrior()

    def level_cameras(self, place_m: Floats, pan_rad: Floats, tilt_rad: Floats) -> Floats:
        """(c, 11) camera parameters of a level phone at (3,) ``place_m``.

        Parameters
        ----------
        place_m : (3,) array
            The lens. [m]
        pan_rad, tilt_rad : (c,) arrays
            Where it looks: 0 toward second base, positive toward first; positive upward. [rad]
        """
        from scipy.spatial.transform import Rotation  # slow to import

        pan, tilt = np.broadcast_arrays(pan_rad, tilt_rad)
        flat = np.zeros_like(pan)
        right = np.stack([np.cos(pan), -np.sin(pan), flat], axis=-1)
        ahead = np.stack([np.cos(tilt) * np.sin(pan), np.cos(tilt) * np.cos(pan), np.sin(tilt)], axis=-1)
        turns = Rotation.from_matrix(np.stack([right, np.cross(ahead, right), ahead], axis=-2)).as_rotvec()
        width, height = self.size_px
        rest = [self.focal_px, self.lens.k1, 0.5 * (width - 1), 0.5 * (height - 1), self.readout.readout_s]
        places, rests = (np.broadcast_to(part, (len(pan), len(part))) for part in (place_m, rest))
        return np.concatenate([turns, places, rests], axis=1)

    def noise_px(self, pixels_per_s: Floats, diameter_px: Floats) -> Floats:
        """One sd of a ball's centre along an axis, and of its diameter, from how far it smears. [px]"""
        streak = pixels_per_s * self.shutter_s / diameter_px
        return np.asarray(SHARP_SD_PX + (BLURRED_SD_PX - SHARP_SD_PX) * streak / BLURRED)
