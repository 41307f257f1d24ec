"""What lesson.toml or lens.toml says of the lens, until the width of the picture is known."""

import math
from dataclasses import dataclass

from balltrack.camera.marks import LensPrior
from balltrack.camera.model import focal_of_fov_px
from balltrack.lesson.lesson_toml import LensTable


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens as stated. None is what was not stated."""

    horizontal_fov_deg: float | None = None
    horizontal_fov_sd_pct: float | None = None
    k1: float | None = None
    k1_sd: float | None = None
    image_size_px: tuple[int, int] | None = None  # of the picture in which the centre lies
    centre_px: tuple[float, float] | None = None
    centre_sd_px: float | None = None

    def prior(self, width_px: int) -> LensPrior:
        """The same for a picture ``width_px`` wide. What was not stated is left to the camera's own defaults."""
        prior = LensPrior()
        k1 = prior.k1 if self.k1 is None else self.k1
        k1_sd = prior.k1_sd if self.k1_sd is None else self.k1_sd
        if self.horizontal_fov_deg is None:
            return LensPrior(k1=k1, k1_sd=k1_sd)
        fov_rad = math.radians(self.horizontal_fov_deg)
        focal_px = focal_of_fov_px(fov_rad, width_px)
        centre_px, centre_sd_px = self._centre(width_px)
        if self.horizontal_fov_sd_pct is None:
            return LensPrior(focal_px, None, k1, k1_sd, centre_sd_px, centre_px)
        focal_sd_px = focal_share(fov_rad, self.horizontal_fov_sd_pct / 100) * focal_px
        return LensPrior(focal_px, focal_sd_px, k1, k1_sd, centre_sd_px, centre_px)

    def _centre(self, width_px: int) -> tuple[tuple[float, float] | None, float | None]:
        """The optical axis and its uncertainty, where both are stated and for a picture of this width."""
        told = self.centre_px is not None and self.centre_sd_px is not None and self.image_size_px is not None
        if not told or self.image_size_px is None or self.image_size_px[0] != width_px:
            return None, None
        return self.centre_px, self.centre_sd_px


def focal_share(fov_rad: float, fov_share: float) -> float:
    """The focal length's uncertainty by the field of view's: f = w / (2 tan(a/2)), so df/f = -a / sin(a) * da/a."""
    return fov_rad / math.sin(fov_rad) * fov_share


def lens_of(table: LensTable) -> Lens:
    """What lens.toml says."""
    size, centre = table.image_size_px, table.centre_px
    return Lens(
        table.horizontal_fov_deg,
        table.horizontal_fov_sd_pct,
        table.k1,
        table.k1_sd,
        None if size is None else (size[0], size[1]),
        None if centre is None else (centre[0], centre[1]),
        table.centre_sd_px,
    )
