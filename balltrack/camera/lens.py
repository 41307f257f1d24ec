"""What a camera makes of points, number by number: compiled, for fits and searches ask it all the time.

Arrays are contiguous, of 64-bit numbers; `model` says what it all means and is what others call. A kernel calls and
uses only what stands in its own file: what is kept of it from run to run is compiled anew when this file changes.
"""

import numpy as np

from balltrack.compiled import compiled
from balltrack.units import Floats

NEAREST_M = 0.01  # a point nearer than this to the lens plane has no image
SMALL_RAD = 1e-4  # of smaller angles, sin(t)/t and (1 - cos t)/t² by their series are exact to the last digit


@compiled
def rotations(vectors: Floats) -> Floats:
    """(m, 3, 3) of (m, 3): Rodrigues' formula, R = I + a K + b K², a = sin(t)/t, b = (1 - cos t)/t²."""
    out = np.empty((len(vectors), 3, 3))
    for k in range(len(vectors)):
        x, y, z = vectors[k, 0], vectors[k, 1], vectors[k, 2]
        angle = np.sqrt(x * x + y * y + z * z)
        a, half = 1.0 - angle * angle / 6.0, 1.0 - angle * angle / 24.0  # half: sin(t/2)/(t/2)
        if angle > SMALL_RAD:
            a, half = np.sin(angle) / angle, np.sin(0.5 * angle) / (0.5 * angle)
        b = 0.5 * half * half
        out[k, 0, 0] = 1.0 - b * (y * y + z * z)
        out[k, 0, 1] = b * x * y - a * z
        out[k, 0, 2] = b * x * z + a * y
        out[k, 1, 0] = b * x * y + a * z
        out[k, 1, 1] = 1.0 - b * (x * x + z * z)
        out[k, 1, 2] = b * y * z - a * x
        out[k, 2, 0] = b * x * z - a * y
        out[k, 2, 1] = b * y * z + a * x
        out[k, 2, 2] = 1.0 - b * (x * x + y * y)
    return out


@compiled
def in_camera(points_m: Floats, cameras: Floats, turns: Floats) -> Floats:
    """(b, n, 3) in the camera frame [m] of (b, n, 3) in the field frame, (b, 11) and their `rotations` (b, 3, 3)."""
    out = np.empty(points_m.shape)
    for b in range(points_m.shape[0]):
        for n in range(points_m.shape[1]):
            x, y, z = points_m[b, n, 0], points_m[b, n, 1], points_m[b, n, 2]
            x, y, z = x - cameras[b, 3], y - cameras[b, 4], z - cameras[b, 5]
            for j in range(3):
                out[b, n, j] = turns[b, j, 0] * x + turns[b, j, 1] * y + turns[b, j, 2] * z
    return out


@compiled
def centres(local_m: Floats, cameras: Floats) -> Floats:
    """(b, n, 2) [px] of (b, n, 3) in the camera frame and (b, 11): see `model.project_parameters`."""
    out = np.empty((local_m.shape[0], local_m.shape[1], 2))
    for b in range(local_m.shape[0]):
        focal, k1 = cameras[b, 6], cameras[b, 7]
        for n in range(local_m.shape[1]):
            depth = local_m[b, n, 2]
            if not depth > NEAREST_M:
                depth = np.nan
            x, y = local_m[b, n, 0] / depth, local_m[b, n, 1] / depth
            radius_sq = x * x + y * y
            bent = focal * (1.0 + k1 * radius_sq) if 1.0 + 3.0 * k1 * radius_sq > 0.0 else np.nan
            out[b, n, 0], out[b, n, 1] = bent * x + cameras[b, 8], bent * y + cameras[b, 9]
    return out


@compiled
def diameters(local_m: Floats, cameras: Floats, diameter_m: float) -> Floats:
    """(b, n) [px] of balls (b, n, 3) in the camera frame and (b, 11): see `model.apparent_diameter_px`."""
    out = np.full((local_m.shape[0], local_m.shape[1]), np.nan)
    for b in range(local_m.shape[0]):
        focal, k1 = cameras[b, 6], cameras[b, 7]
        for n in range(local_m.shape[1]):
            x, y, depth = local_m[b, n, 0], local_m[b, n, 1], local_m[b, n, 2]
            plane_sq, depth_sq = x * x + y * y, depth * depth
            distance_sq = plane_sq + depth_sq
            sin_sq = (0.5 * diameter_m) ** 2 / distance_sq
            slack = depth_sq / distance_sq - sin_sq  # cos² t - sin² a
            radius_sq = plane_sq / depth_sq
            along = 1.0 + 3.0 * k1 * radius_sq
            if depth > NEAREST_M and slack > 0.0 and sin_sq < 1.0 and along > 0.0:
                area = sin_sq * np.sqrt(1.0 - sin_sq) / (slack * np.sqrt(slack))
                out[b, n] = 2.0 * focal * np.sqrt(area * along * (1.0 + k1 * radius_sq))
    return out
