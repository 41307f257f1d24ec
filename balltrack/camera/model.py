"""A calibrated, fixed phone camera: pinhole with one radial distortion term, and rolling shutter.

Camera frame: x right, y down, z along the optical axis. Pixels: u right, v down, centre of the top-left pixel (0, 0).
"""

import math
from dataclasses import dataclass

import numpy as np

from balltrack.camera import lens
from balltrack.errors import ShapeError
from balltrack.units import Floats

PARAMETERS = ("rx", "ry", "rz", "x_m", "y_m", "z_m", "focal_px", "k1", "cx_px", "cy_px", "readout_s")


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A calibrated, fixed camera.

    ``parameters`` is the one truth, in the order of ``PARAMETERS``: rotation vector field -> camera (Rodrigues),
    lens centre in the field frame [m], focal length [px], Brown-Conrady k1 (x_d = x_u (1 + k1 r_u²)), principal
    point [px], sensor readout from top row to bottom row [s].
    """

    parameters: Floats  # (11,)
    covariance: Floats  # (11, 11) of ``parameters``
    size_px: tuple[int, int]  # width, height of the upright frame

    @property
    def field_to_camera(self) -> Floats:
        """(3, 3) rotation that turns field directions into camera directions."""
        return rotation_matrices(self.parameters[:3])

    @property
    def position_field_m(self) -> Floats:
        """(3,) lens centre in the field frame. [m]"""
        return self.parameters[3:6]

    @property
    def focal_px(self) -> float:
        """Focal length. [px]"""
        return float(self.parameters[6])

    @property
    def readout_s(self) -> float:
        """Time from the top row's exposure to the bottom row's. [s]"""
        return float(self.parameters[10])


def focal_of_fov_px(horizontal_fov_rad: float, width_px: int) -> float:
    """Focal length [px] of a distortion-free lens that spans ``horizontal_fov_rad`` over ``width_px`` columns."""
    return float(0.5 * width_px / np.tan(0.5 * horizontal_fov_rad))


def fov_of_focal_rad(focal_px: float, width_px: int) -> float:
    """Horizontal field of view [rad] of a distortion-free lens; the inverse of `focal_of_fov_px`."""
    return float(2.0 * np.arctan(0.5 * width_px / focal_px))


def rotation_matrices(vectors: Floats) -> Floats:
    """Turn rotation vectors into matrices.

    Parameters
    ----------
    vectors : (..., 3) array
        Axis times angle. [rad]

    Returns
    -------
    (..., 3, 3) array

    References
    ----------
    Rodrigues' formula, R = I + sin(t)/t K + (1 - cos(t))/t² K², with K the cross-product matrix of the vector.
    """
    flat = np.ascontiguousarray(vectors, dtype=np.float64).reshape(-1, 3)
    return lens.rotations(flat).reshape(*vectors.shape, 3)


def points_in_camera_m(points_field_m: Floats, parameters: Floats) -> Floats:
    """Bring field points into the camera frame.

    Parameters
    ----------
    points_field_m : (..., n, 3) array
        [m]
    parameters : (..., 11) array
        In the order of ``PARAMETERS``. Leading dimensions broadcast against those of the points.

    Returns
    -------
    (..., n, 3) array
        [m]

    Raises
    ------
    ShapeError
        If the last dimensions are not 3 and 11.
    """
    if points_field_m.ndim < 2 or points_field_m.shape[-1] != 3:
        raise ShapeError(f"points must be (..., n, 3), not {points_field_m.shape}")
    if parameters.shape[-1:] != (len(PARAMETERS),):
        raise ShapeError(f"camera parameters must be (..., {len(PARAMETERS)}), not {parameters.shape}")
    points, cameras, shape = _batched(points_field_m, parameters)
    turns = lens.rotations(np.ascontiguousarray(cameras[:, :3]))
    return lens.in_camera(points, cameras, turns).reshape(*shape, 3)


def _batched(points_m: Floats, parameters: Floats) -> tuple[Floats, Floats, tuple[int, ...]]:
    """Points (b, n, 3) and cameras (b, 11) as the lens takes them, and the shape (..., n) that they came in."""
    shape, count, many = points_m.shape[:-2], points_m.shape[-2], parameters.shape[:-1]
    if many not in ((), shape):
        shape = np.broadcast_shapes(shape, many)
    if parameters.size == len(PARAMETERS):  # one camera, however many the points
        cameras, points = parameters.reshape(1, -1), points_m.reshape(1, -1, 3)
    elif len(shape) == 1 and shape == many == points_m.shape[:-2]:
        cameras, points = parameters, points_m
    else:
        views = math.prod(shape)  # told, for of no points it could not be reckoned
        cameras = np.broadcast_to(parameters, (*shape, len(PARAMETERS))).reshape(views, len(PARAMETERS))
        points = np.broadcast_to(points_m, (*shape, count, 3)).reshape(views, count, 3)
    points, cameras = (np.ascontiguousarray(each, dtype=np.float64) for each in (points, cameras))
    return points, cameras, (*shape, count)


def project_parameters(points_field_m: Floats, parameters: Floats) -> Floats:
    """Project field points through one or many cameras at once.

    Parameters
    ----------
    points_field_m : (..., n, 3) array
        [m]
    parameters : (..., 11) array
        In the order of ``PARAMETERS``. Leading dimensions broadcast against those of the points.

    Returns
    -------
    (..., n, 2) array
        Columns u, v. [px] NaN where the point lies behind the lens, or so far out that the distortion term has
        passed its turning point (1 + 3 k1 r² <= 0) and would fold the point back into the picture.

    References
    ----------
    Brown, Close-range camera calibration, Photogrammetric Engineering 37 (1971) 855, first radial term only.
    """
    return project_in_camera(points_in_camera_m(points_field_m, parameters), parameters)


def project_in_camera(points_camera_m: Floats, parameters: Floats) -> Floats:
    """The same of points (..., n, 3) that are in the camera frame already. [px] (..., n, 2)"""
    points, cameras, shape = _batched(points_camera_m, parameters)
    return lens.centres(points, cameras).reshape(*shape, 2)


def project(points_field_m: Floats, camera: Camera) -> Floats:
    """Project (n, 3) field points [m] into (n, 2) pixels; see `project_parameters` for what becomes NaN."""
    return project_parameters(points_field_m, camera.parameters)


def depths_m(points_field_m: Floats, parameters: Floats) -> Floats:
    """Distance of (..., n, 3) points from the lens along the optical axis, (..., n). [m] Negative behind the lens."""
    return points_in_camera_m(points_field_m, parameters)[..., 2]


def apparent_diameter_px(points_field_m: Floats, parameters: Floats, diameter_m: float) -> Floats:
    """Diameter of the circle that covers as many pixels as a ball's image does.

    The image of a sphere is an ellipse. With distance d and off-axis angle t of the centre, and sin a = D / 2d, its
    half axes are f sin a cos a / (cos² t - sin² a) along the radius and f sin a / sqrt(cos² t - sin² a) across it:
    exact for a pinhole. The distortion's local stretch at the centre, (1 + 3 k1 r²) along and (1 + k1 r²) across,
    multiplies them (first order in the ball's size).

    Parameters
    ----------
    points_field_m : (..., n, 3) array
        Ball centres. [m]
    parameters : (..., 11) array
        Cameras; leading dimensions broadcast.
    diameter_m : float
        [m]

    Returns
    -------
    (..., n) array
        [px] NaN where `project_parameters` gives NaN, or where the lens is inside the ball's tangent cone.
    """
    return diameter_in_camera_px(points_in_camera_m(points_field_m, parameters), parameters, diameter_m)


def diameter_in_camera_px(points_camera_m: Floats, parameters: Floats, diameter_m: float) -> Floats:
    """The same of points (..., n, 3) that are in the camera frame already. [px] (..., n)"""
    points, cameras, shape = _batched(points_camera_m, parameters)
    return lens.diameters(points, cameras, diameter_m).reshape(shape)


def rays_field(pixels: Floats, camera: Camera) -> Floats:
    """Directions in which pixels look.

    Parameters
    ----------
    pixels : (n, 2) array
        Columns u, v. [px]
    camera : Camera

    Returns
    -------
    (n, 3) array
        Unit vectors in the field frame, from the lens outward. NaN where the pixel lies beyond what the distortion
        term can reach.
    """
    if pixels.ndim != 2 or pixels.shape[1] != 2:
        raise ShapeError(f"pixels must be (n, 2), not {pixels.shape}")
    p = camera.parameters
    bent = (pixels - p[8:10]) / p[6]
    radius = np.hypot(bent[:, 0], bent[:, 1])
    straight = _undistorted_radius(radius, float(p[7]))
    scale = np.divide(straight, radius, out=np.ones_like(radius), where=radius > 0.0)
    local = np.column_stack([bent * scale[:, None], np.ones(len(bent))])
    local /= np.linalg.norm(local, axis=1, keepdims=True)
    directions: Floats = local @ camera.field_to_camera
    return directions


def axes_at(pixels: Floats, camera: Camera) -> Floats:
    """How the picture lies round pixels (n, 2): (n, 3, 3) rows right, down and towards the lens, in the field frame."""
    towards = -rays_field(pixels, camera)
    right = camera.field_to_camera[0] - (towards @ camera.field_to_camera[0])[:, None] * towards
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    return np.stack([right, np.cross(right, towards), towards], axis=1)


def _undistorted_radius(radius: Floats, k1: float) -> Floats:
    """Solve s (1 + k1 s²) = radius for s by Newton's method; NaN beyond the turning point."""
    reachable = radius
    if k1 < 0.0:
        turning = 1.0 / np.sqrt(-3.0 * k1)
        reachable = np.where(radius < 2.0 / 3.0 * turning, radius, np.nan)
    s: Floats = reachable.copy()  # k1 < 0: left of the root, converges from below; k1 > 0: from above
    for _ in range(50):
        step = (s * (1.0 + k1 * s * s) - reachable) / (1.0 + 3.0 * k1 * s * s)
        s = s - step
        if not np.any(np.abs(step) > 1e-14 * (1.0 + np.abs(s))):
            break
    return s


def row_delay_s(v_px: Floats, camera: Camera) -> Floats:
    """How much later than the top row a row is exposed, readout * v / height. [s]"""
    return camera.readout_s * v_px / camera.size_px[1]
