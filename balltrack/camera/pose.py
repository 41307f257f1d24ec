"""Starting poses for the adjustment: closed-form solutions from points and pixels, for one or many focal lengths."""

from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.camera.model import PARAMETERS, depths_m, project_parameters, rotation_matrices
from balltrack.units import Floats

COPLANAR_M = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """A pose to start from."""

    parameters: Floats  # (11,) in the order of PARAMETERS
    rms_px: float  # over the points it came from


def starting_poses(points_field_m: Floats, pixels: Floats, focals_px: Floats, centre_px: Floats) -> list[Start]:
    """Solve the pose without distortion for every focal length, best first.

    Parameters
    ----------
    points_field_m : (n, 3) array
        [m] At least 4.
    pixels : (n, 2) array
        [px]
    focals_px : (m,) array
        [px]
    centre_px : (2,) array
        Principal point. [px]

    Returns
    -------
    list of Start
        Only upright poses (field up is up in the picture, by less than a quarter turn) with every point in front of
        the lens; empty where there is none. Poses underground are kept.

    References
    ----------
    Collins & Bartoli, Infinitesimal plane-based pose estimation, IJCV 109 (2014) 252 (planar; gives both of the poses
    between which a small plane leaves doubt); Terzakis & Lourakis, SQPnP, ECCV 2020; Lepetit et al., EPnP, IJCV 81
    (2009) 155. All as implemented in OpenCV.
    """
    methods = [cv2.SOLVEPNP_SQPNP, cv2.SOLVEPNP_EPNP]
    spreads = np.linalg.svd(points_field_m - points_field_m.mean(axis=0), compute_uv=False)
    if spreads[2] < COPLANAR_M:
        methods.insert(0, cv2.SOLVEPNP_IPPE)
    starts = []
    for focal_px in focals_px:
        matrix = np.array([[focal_px, 0.0, centre_px[0]], [0.0, focal_px, centre_px[1]], [0.0, 0.0, 1.0]])
        for method in methods:
            for rotation, translation in _solve_pnp(points_field_m, pixels, matrix, method):
                start = _start(points_field_m, pixels, matrix, rotation, translation)
                if start is not None:
                    starts.append(start)
    return sorted(starts, key=lambda start: start.rms_px)


def is_upright(parameters: Floats) -> bool:
    """Whether up on the field is up in the picture.

    A small plane seen from afar fits two poses; the second has its tilt reversed, and the camera stands on its head.
    """
    return bool(rotation_matrices(parameters[:3])[1, 2] < 0.0)


def _solve_pnp(points_field_m: Floats, pixels: Floats, matrix: Floats, method: int) -> list[tuple[Floats, Floats]]:
    """Call OpenCV, which raises its own error where the points do not suit a method: no pose, then."""
    try:
        _, rotations, translations, _ = cv2.solvePnPGeneric(
            np.ascontiguousarray(points_field_m), np.ascontiguousarray(pixels), matrix, None, flags=method
        )
    except cv2.error:
        return []
    return [
        (np.ravel(r).astype(float), np.ravel(t).astype(float)) for r, t in zip(rotations, translations, strict=True)
    ]


def _start(
    points_field_m: Floats, pixels: Floats, matrix: Floats, rotation: Floats, translation: Floats
) -> Start | None:
    if not (np.isfinite(rotation).all() and np.isfinite(translation).all()):
        return None
    position = -cv2.Rodrigues(rotation)[0].T @ translation
    parameters = np.zeros(len(PARAMETERS))
    parameters[:3], parameters[3:6], parameters[6] = rotation, position, matrix[0, 0]
    parameters[8:10] = matrix[:2, 2]
    if not is_upright(parameters) or np.any(depths_m(points_field_m, parameters) <= 0.0):
        return None
    errors = project_parameters(points_field_m, parameters) - pixels
    return Start(parameters, float(np.sqrt(np.mean(np.sum(errors**2, axis=1)))))
