"""What a person marks in the picture, what is known of the lens beforehand, and checks that need no camera."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from balltrack.errors import CalibrationError

FEWEST_MARKS = 4  # six unknowns of the pose need three marks, and three fit up to four poses alike
ADVICE = "add plate corners, batter's box corners, bases, the pitcher's plate or pole bases"
SAME_PLACE_M = 1e-3
SAME_PIXEL_PX = 0.5
ON_ONE_LINE_M = 0.02  # rms distance from the best line below which marks give no pose
# Of the focal length, where a person states no uncertainty. Makers give whole millimetres of a 36 mm frame's lens
# (26 mm ± 0.5 is ±2 %, an sd of 1.1 %), and video is cropped a little for steadying (common practice, no source).
DEFAULT_FOCAL_SD_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the field, and the pixel at which it is seen."""

    name: str
    point_field_m: tuple[float, float, float]
    pixel_px: tuple[float, float]
    sd_px: float | None = None  # of the pixel, along u or v, where it was measured; None: a careful click


@dataclass(frozen=True, slots=True)
class LensPrior:
    """What is known of the lens before the marks are looked at. ``focal_px`` None: nothing but that it is a phone's."""

    focal_px: float | None = None
    focal_sd_px: float | None = None  # None with a focal length: DEFAULT_FOCAL_SD_SHARE of it
    k1: float = 0.0
    k1_sd: float = 0.03  # phones correct distortion before they store, and leave little: common practice, no source
    centre_sd_px: float | None = None  # how far the optical axis may lie off its place; None: any phone's
    centre_px: tuple[float, float] | None = None  # where it meets the picture; None: in its middle


@dataclass(frozen=True, slots=True)
class ReadoutPrior:
    """Top row to bottom row. Known phones lie between 7 and 31 ms (Ringaby & Forssen 2012; Oth et al. 2013)."""

    readout_s: float = 0.012
    sd_s: float = 0.006


STATED_READOUT_SD_S = 0.0005  # where a person states the readout


def check_marks(marks: Sequence[Mark], size_px: tuple[int, int]) -> None:
    """Raise a CalibrationError where the marks cannot give a camera, whatever the lens."""
    if len(marks) < FEWEST_MARKS:
        raise CalibrationError(
            f"{len(marks)} of at least {FEWEST_MARKS} camera marks given; {ADVICE} (6 or more are better)"
        )
    for mark in marks:
        _check_inside(mark, size_px)
    for a, b in combinations(marks, 2):
        _check_apart(a, b)
    points = np.array([mark.point_field_m for mark in marks])
    if spread_about_line_m(points) < ON_ONE_LINE_M:
        raise CalibrationError(f"all {len(marks)} camera marks lie on one straight line; {ADVICE} away from that line")


def spread_about_line_m(points_field_m: "np.typing.NDArray[np.float64]") -> float:
    """Root mean square distance [m] of (n, 3) points from the straight line that fits them best."""
    spreads = np.linalg.svd(points_field_m - points_field_m.mean(axis=0), compute_uv=False)
    return float(np.hypot(spreads[1], spreads[2]) / np.sqrt(len(points_field_m)))


def _check_inside(mark: Mark, size_px: tuple[int, int]) -> None:
    u, v = mark.pixel_px
    width, height = size_px
    if not (np.isfinite(mark.point_field_m).all() and np.isfinite(mark.pixel_px).all()):
        raise CalibrationError(f"camera mark '{mark.name}' holds a number that is not finite; give it anew")
    if not (-0.5 <= u <= width - 0.5 and -0.5 <= v <= height - 0.5):
        raise CalibrationError(
            f"camera mark '{mark.name}' at pixel ({u:.1f}, {v:.1f}) lies outside the {width} x {height} picture "
            f"(u 0 to {width - 1}, v 0 to {height - 1}); mark it on a frame of this lesson's clips"
        )


def _check_apart(a: Mark, b: Mark) -> None:
    if np.hypot(*np.subtract(a.pixel_px, b.pixel_px)) < SAME_PIXEL_PX:
        raise CalibrationError(
            f"camera marks '{a.name}' and '{b.name}' have the same pixel ({a.pixel_px[0]:.1f}, {a.pixel_px[1]:.1f}); "
            "mark one of them anew"
        )
    if np.linalg.norm(np.subtract(a.point_field_m, b.point_field_m)) < SAME_PLACE_M:
        raise CalibrationError(f"camera marks '{a.name}' and '{b.name}' are the same place on the field; leave one out")
