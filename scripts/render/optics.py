"""The true camera: pinhole with one Brown radial term, fixed on a tripod, read out row by row."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .arrays import Floats

WIDEST = 4.0  # tangent of the angle off the axis beyond which nothing is imaged

Path = Callable[[Floats], Floats]  # times (n,) [s] -> field points (n, 3) [m]


@dataclass(frozen=True, slots=True, eq=False)
class Optics:
    """The camera that films. Row r is exposed from ``pts + readout_s * r / height`` for ``exposure_s``."""

    focal_px: float
    principal_px: tuple[float, float]
    k1: float  # x_d = x_u (1 + k1 r_u²)
    rotation: Floats  # (3, 3) field -> camera: x right, y down, z forward
    position_m: Floats  # (3,)
    size_px: tuple[int, int]  # width, height
    readout_s: float
    exposure_s: float

    @property
    def hfov_deg(self) -> float:
        """Horizontal field of view of the undistorted pinhole. [degrees]"""
        return float(np.degrees(2.0 * np.arctan(self.size_px[0] / 2.0 / self.focal_px)))


def look(yaw_rad: float, pitch_rad: float, roll_rad: float) -> Floats:
    """Rotation field -> camera of a camera that looks along +y, turned right by yaw, up by pitch, then rolled."""
    forward = np.array([np.sin(yaw_rad) * np.cos(pitch_rad), np.cos(yaw_rad) * np.cos(pitch_rad), np.sin(pitch_rad)])
    right = np.array([np.cos(yaw_rad), -np.sin(yaw_rad), 0.0])
    down = np.cross(forward, right)
    c, s = np.cos(roll_rad), np.sin(roll_rad)
    return np.stack([c * right + s * down, -s * right + c * down, forward])


def project(points_m: Floats, optics: Optics) -> Floats:
    """Field points (n, 3) to pixels (n, 2). Points behind the lens, or far outside its view, are NaN."""
    local = (np.atleast_2d(points_m) - optics.position_m) @ optics.rotation.T
    depth = np.where(local[:, 2] > 0.05, local[:, 2], np.nan)
    ideal = local[:, :2] / depth[:, None]
    square = np.sum(ideal**2, axis=1)
    # Far off the axis the polynomial turns back and would fold what lies outside into the picture.
    square = np.where((square < WIDEST**2) & (1.0 + 3.0 * optics.k1 * square > 0.1), square, np.nan)
    bent = ideal * (1.0 + optics.k1 * square)[:, None]
    return np.asarray(optics.focal_px * bent + np.array(optics.principal_px))


def depths(points_m: Floats, optics: Optics) -> Floats:
    """Distance along the optical axis of field points (n, 3). [m]"""
    return np.asarray((np.atleast_2d(points_m) - optics.position_m) @ optics.rotation[2])


def rays(pixels: Floats, optics: Optics) -> Floats:
    """Unit directions in the field frame (n, 3) of pixels (n, 2): ``project`` inverted by Newton steps."""
    bent = (pixels - np.array(optics.principal_px)) / optics.focal_px
    radius = np.hypot(bent[:, 0], bent[:, 1])
    ideal = radius.copy()
    for _ in range(8):
        ideal -= (ideal * (1.0 + optics.k1 * ideal**2) - radius) / (1.0 + 3.0 * optics.k1 * ideal**2)
    scale = np.where(radius > 0.0, ideal / np.maximum(radius, 1e-12), 1.0)
    local = np.concatenate([bent * scale[:, None], np.ones((len(bent), 1))], axis=1)
    local /= np.linalg.norm(local, axis=1, keepdims=True)
    return local @ optics.rotation


def row_time(pts_s: float, row_px: Floats, share: float, optics: Optics) -> Floats:
    """Clip time when a row has had ``share`` (0..1) of its exposure. [s]"""
    return pts_s + optics.readout_s * row_px / optics.size_px[1] + share * optics.exposure_s


def expose(path: Path, pts_s: float, shares: Floats, optics: Optics) -> tuple[Floats, Floats]:
    """Where a moving point is imaged at each share of the exposure of the row that it falls on.

    Returns times (n,) and pixels (n, 2). Solves t = pts + readout v(t)/height + share exposure by fixed point: the
    map contracts as long as the image moves slower than the read-out.
    """
    height = optics.size_px[1]
    times = np.full(len(shares), pts_s + 0.5 * optics.readout_s) + shares * optics.exposure_s
    pixels = project(path(times), optics)
    for _ in range(12):
        rows = np.clip(np.nan_to_num(pixels[:, 1]), -height, 2.0 * height)
        times = pts_s + optics.readout_s * rows / height + shares * optics.exposure_s
        pixels = project(path(times), optics)
    return times, pixels


def ellipse_of(point_m: Floats, pixel: Floats, radius_m: float, optics: Optics) -> Floats:
    """Matrix M (2, 2) of a small sphere's outline: (p - c)' M (p - c) = 1. [px^-2]"""
    steps = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]) + pixel
    sight = rays(steps, optics)
    across = np.stack([sight[1] - sight[0], sight[2] - sight[0]])
    distance = float(np.linalg.norm(point_m - optics.position_m))
    return np.asarray((across @ across.T) / np.tan(np.arcsin(min(radius_m / distance, 0.9))) ** 2)


def diameter_px(outline: Floats) -> float:
    """Diameter of the circle with the outline's area."""
    return float(2.0 * np.linalg.det(outline) ** -0.25)
