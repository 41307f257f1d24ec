"""Filmed fields with known truth. The projection is OpenCV's, not the package's."""

from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.camera.marks import LensPrior, Mark
from balltrack.units import M_PER_FT, M_PER_IN, Floats

SIZE_PX = (1920, 1080)
IN, FT = M_PER_IN, M_PER_FT
PLATE = {
    "plate_tip": (0.0, 0.0, 0.0),
    "plate_left": (-8.5 * IN, 8.5 * IN, 0.0),
    "plate_right": (8.5 * IN, 8.5 * IN, 0.0),
    "plate_front_left": (-8.5 * IN, 17 * IN, 0.0),
    "plate_front_right": (8.5 * IN, 17 * IN, 0.0),
}
BOXES = {
    f"{side}_box_{edge}_{end}": (sign * x, y, 0.0)
    for side, sign in (("left", -1), ("right", 1))
    for edge, x in (("inner", 14.5 * IN), ("outer", 14.5 * IN + 3 * FT))
    for end, y in (("back", 8.5 * IN - 3 * FT), ("front", 8.5 * IN + 4 * FT))
}
BASES = {
    "first_base_back": (65 * FT / 2**0.5, 65 * FT / 2**0.5, 0.0),
    "third_base_back": (-65 * FT / 2**0.5, 65 * FT / 2**0.5, 0.0),
    "second_base_center": (0.0, 65 * FT * 2**0.5, 0.0),
}


@dataclass(frozen=True)
class View:
    """Where a tripod stands and looks."""

    position_field_m: tuple[float, float, float]
    looks_at_m: tuple[float, float, float]
    points: dict[str, tuple[float, float, float]]


BEHIND = View((0.3, -5.0, 1.5), (0.0, 6.0, 1.2), PLATE | BOXES)
BEHIND_FAR = View((0.3, -5.0, 1.5), (0.0, 6.0, 1.2), PLATE | BOXES | BASES)
OPEN_SIDE = View((4.0, -4.0, 1.5), (0.0, 3.0, 1.0), PLATE | BOXES)
SIDE_ON = View((6.0, 0.4, 1.5), (0.0, 1.5, 1.0), PLATE | BOXES)
VIEWS = {"behind": BEHIND, "behind, bases too": BEHIND_FAR, "open side": OPEN_SIDE, "side-on": SIDE_ON}


@dataclass(frozen=True)
class Truth:
    """The camera that filmed. ``unknowns``: rotation vector, position, focal length, k1, principal point."""

    unknowns: Floats  # (10,)

    def see(self, points_field_m: Floats) -> Floats:
        """(n, 3) field points [m] to (n, 2) pixels, by OpenCV."""
        q = self.unknowns
        matrix = np.array([[q[6], 0, q[8]], [0, q[6], q[9]], [0, 0, 1.0]])
        shift = -cv2.Rodrigues(q[:3])[0] @ q[3:6]
        lens = np.array([q[7], 0.0, 0.0, 0.0])
        return np.asarray(cv2.projectPoints(points_field_m, q[:3], shift, matrix, lens)[0][:, 0], float)


def rotation_vector(view: View) -> Floats:
    """Field -> camera for a level phone (no roll)."""
    forward = np.subtract(view.looks_at_m, view.position_field_m)
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    return np.asarray(cv2.Rodrigues(np.array([right, np.cross(forward, right), forward]))[0][:, 0], float)


def truth(view: View, focal_px: float = 1600.0, k1: float = 0.0, centre_off_px: tuple[float, float] = (0, 0)) -> Truth:
    centre = np.array([959.5, 539.5]) + centre_off_px
    return Truth(np.concatenate([rotation_vector(view), view.position_field_m, [focal_px, k1], centre]))


def random_truth(view: View, rng: np.random.Generator) -> Truth:
    """A phone as the solver expects phones to be: k1 0 +- 0.03, principal point within 0.5 % of the width."""
    return truth(view, 1600.0, rng.normal(0, 0.03), tuple(rng.normal(0, 0.005 * 1920, 2)))


def marks_of(
    filmed: Truth,
    view: View,
    noise_px: float = 0.0,
    rng: np.random.Generator | None = None,
    size_px: tuple[int, int] = SIZE_PX,
) -> list[Mark]:
    """What a person clicks: every point in the picture, with noise."""
    points = np.array(list(view.points.values()))
    pixels = filmed.see(points)
    inside = np.all((pixels > 4.0) & (pixels < np.array(size_px) - 5.0), axis=1)
    if rng is not None:
        pixels = pixels + rng.normal(0.0, noise_px, pixels.shape)
    names = list(view.points)
    return [Mark(names[i], view.points[names[i]], (pixels[i, 0], pixels[i, 1])) for i in np.flatnonzero(inside)]


def stated_lens(filmed: Truth, share: float, rng: np.random.Generator) -> LensPrior:
    """The focal length as known to ``share`` of it."""
    focal_px = float(filmed.unknowns[6])
    return LensPrior(focal_px * (1 + rng.normal(0, share)), focal_px * share)
