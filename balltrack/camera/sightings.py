"""Marks as arrays: where they lie on the field, where they were seen, and how well each of both is known."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.marks import Mark
from balltrack.camera.model import project_parameters
from balltrack.field import is_chalk
from balltrack.units import Floats

GROUND_STEP_M = 1e-3  # of central differences in the ground


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """Places on the field as they were seen."""

    points_field_m: Floats  # (n, 3)
    pixels: Floats  # (n, 2)
    sd_px: Floats  # (n,) of the pixel, along u or v
    laid: NDArray[np.bool_]  # (n,) on chalk, which was laid by hand; the doubt is not in ``sd_px`` yet

    def without(self, indices: Sequence[int]) -> "Sightings":
        """All but some."""
        rows = np.delete(np.arange(len(self.pixels)), list(indices))
        return Sightings(self.points_field_m[rows], self.pixels[rows], self.sd_px[rows], self.laid[rows])

    def exchanged(self, pair: tuple[int, int]) -> "Sightings":
        """With the pixels of two exchanged."""
        pixels = self.pixels.copy()
        pixels[list(pair)] = self.pixels[list(reversed(pair))]
        return replace(self, pixels=pixels)

    def mirrored(self) -> "Sightings":
        """With left and right of the field exchanged."""
        return replace(self, points_field_m=self.points_field_m * [-1.0, 1.0, 1.0])

    def covariances_px2(self, parameters: Floats, laid_sd_m: float) -> Floats:
        """(n, 2, 2) of where each is seen: the pixel's own, and as chalk lies off its place by ``laid_sd_m``."""
        own = self.sd_px[:, None, None] ** 2 * np.eye(2)
        if not self.laid.any():
            return np.asarray(own, float)
        shifts = GROUND_STEP_M * np.eye(3)[:2, None, :]
        high, low = (project_parameters(self.points_field_m + shift, parameters) for shift in (shifts, -shifts))
        slopes = np.nan_to_num(np.moveaxis((high - low) / (2.0 * GROUND_STEP_M), 0, -1))  # (n, 2, 2) px per m
        ground = laid_sd_m**2 * slopes @ np.swapaxes(slopes, -1, -2)
        return np.asarray(own + self.laid[:, None, None] * ground, float)


def sightings(marks: Sequence[Mark], usual_sd_px: float) -> Sightings:
    """Marks as arrays. One that states no uncertainty was clicked, with the usual one, chalk's doubt included."""
    stated = np.array([mark.sd_px is not None for mark in marks], bool)
    return Sightings(
        np.array([mark.point_field_m for mark in marks], float),
        np.array([mark.pixel_px for mark in marks], float),
        np.array([usual_sd_px if mark.sd_px is None else mark.sd_px for mark in marks], float),
        stated & np.array([is_chalk(mark.name) for mark in marks], bool),
    )
