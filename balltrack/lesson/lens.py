"""What lesson.toml or lens.toml says of the lens, until the width of the picture is known."""

import math
from dataclasses import dataclass

from balltrack.camera.marks import LensPrior
from balltrack.camera.model import focal_of_fov_px


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens as stated. None is what was not stated."""

    horizontal_fov_deg: float | None = None
    horizontal_fov_sd_pct: float | None = None
    k1: float | None = None
    k1_sd: float | None = None

    def prior(self, width_px: int) -> LensPrior:
        """The same for a picture ``width_px`` wide. What was not stated is left to the camera's own defaults."""
        prior = LensPrior()
        k1 = prior.k1 if self.k1 is None else self.k1
        k1_sd = prior.k1_sd if self.k1_sd is None else self.k1_sd
        if self.horizontal_fov_deg is None:
            return LensPrior(k1=k1, k1_sd=k1_sd)
        fov_rad = math.radians(self.horizontal_fov_deg)
        focal_px = focal_of_fov_px(fov_rad, width_px)
        if self.horizontal_fov_sd_pct is None:
            return LensPrior(focal_px, None, k1, k1_sd)
        # f = w / (2 tan(a/2)), so df/f = -a / sin(a) * da/a
        focal_share = fov_rad / math.sin(fov_rad) * self.horizontal_fov_sd_pct / 100
        return LensPrior(focal_px, focal_share * focal_px, k1, k1_sd)
