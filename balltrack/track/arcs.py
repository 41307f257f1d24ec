"""Many guessed flights at once: where each would be seen, and how a few sightings bend each guess.

An arc is a row of nine numbers: contact point [m], velocity at contact [m/s], contact time [s of the clip], lift up
and lift sideways (coefficients). Arcs serve to find the ball; the flight room fits it. How a ball flies is passed in,
so that the physics stands once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import Camera, points_in_camera_m, project_parameters
from balltrack.units import Floats

Fly = Callable[[Floats, Floats], Floats]  # launches (s, 8), elapsed_s (s, m) -> points_field_m (s, m, 3)

SIZE = 9
TIME = 6  # column of the contact time
LAUNCH = [0, 1, 2, 3, 4, 5, 7, 8]  # columns of an arc that make a launch: place, velocity, lift
LIFT_STEP = 0.02
REACH_SDS = 3.0
FEW_ARCS = 200  # the lift of a few arcs is fitted; of many first guesses, from two sightings each, it cannot be told
DEPTH_FLOOR_M = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """How a flying ball is seen: through which camera, how large, along which path."""

    camera: Camera
    ball_diameter_m: float
    fly: Fly


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """What is known of an arc before the ball is seen."""

    mean: Floats  # (9,)
    sd: Floats  # (9,)


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """Where arcs would be seen at given times."""

    centre_px: Floats  # (s, m, 2) NaN where out of sight
    width_px: Floats  # (s, m)
    points_field_m: Floats  # (s, m, 3)


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Measurements that arcs are bent to: NaN where an arc has none."""

    time_s: Floats  # (s, m) of the ball's row
    centre_px: Floats  # (s, m, 2)
    width_px: Floats  # (s, m)


def sight(arcs: Floats, times_s: Floats, view: View) -> Sighting:
    """Predict centre and width of each arc's ball at each time.

    Parameters
    ----------
    arcs : (s, 9) array
    times_s : (m,) or (s, m) array
        Clip time of the ball's row. [s]
    view : View
    """
    elapsed = np.atleast_2d(times_s) - arcs[:, TIME : TIME + 1]
    points = view.fly(arcs[:, LAUNCH], elapsed)
    centre = project_parameters(points, view.camera.parameters)
    depth = np.maximum(_depths(points, view), DEPTH_FLOOR_M)
    return Sighting(centre, view.camera.focal_px * view.ball_diameter_m / depth, points)


def bend(arcs: Floats, seen: Seen, view: View, prior: Prior, rounds: int) -> tuple[Floats, Floats]:
    """Fit every arc to its own measurements by damped Gauss-Newton steps, all arcs at once.

    Parameters
    ----------
    arcs : (s, 9) array
        Starting guesses.
    seen : Seen
    view, prior : View, Prior
    rounds : int
        Steps to take.

    Returns
    -------
    (s, 9) array, (s, 9, 9) array
        The arcs and their covariances.
    """
    weight_prior = np.diag(1.0 / prior.sd**2)
    lowest, highest = (prior.mean[:3] + sign * REACH_SDS * prior.sd[:3] for sign in (-1, 1))
    covariance = np.broadcast_to(np.diag(prior.sd**2), (len(arcs), SIZE, SIZE))
    for _ in range(rounds):
        jacobian, residual, weight = _linearise(arcs, seen, view)
        normal = np.einsum("smki,smk,smkj->sij", jacobian, weight, jacobian) + weight_prior
        slope = np.einsum("smki,smk,smk->si", jacobian, weight, residual) + (prior.mean - arcs) @ weight_prior
        # A guess that passes close to the lens makes entries so unlike in size that the inverse needs this much help.
        normal += 3e-15 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(SIZE)
        covariance = np.linalg.inv(normal)
        step = np.einsum("sij,sj->si", covariance, slope)
        # No step throws a guess further than the field is long: a bad start would fold behind the camera.
        scale = np.minimum(1.0, 12.0 / np.maximum(np.abs(step[:, :6]).max(axis=1), 1e-9))
        arcs = arcs + scale[:, None] * step
        # Contact outside any batter's reach would be a bounce or a roll told as a flight.
        arcs[:, :3] = np.clip(arcs[:, :3], lowest, highest)
    return arcs, covariance


def spread_px(arcs: Floats, covariance: Floats, times_s: Floats, view: View) -> Floats:
    """Predicted covariance (s, m, 2, 2) [px²] of each arc's centre at each time, from the arc's own covariance."""
    jacobian = _jacobian(arcs, np.atleast_2d(times_s), view)[:, :, :2]
    return np.asarray(np.einsum("smki,sij,smlj->smkl", jacobian, covariance, jacobian))


def centre_noise_px(width_px: Floats) -> Floats:
    """How far a region's centre may lie from the ball's: compression, shade and a merged shadow grow with size."""
    return np.asarray(0.8 + 0.06 * width_px)


def width_noise_log(width_px: Floats) -> Floats:
    """Relative error of a region's width, as a standard deviation of its logarithm."""
    return np.asarray(0.15 + 0.9 / np.maximum(width_px, 1.0))


def _linearise(arcs: Floats, seen: Seen, view: View) -> tuple[Floats, Floats, Floats]:
    """Jacobian (s, m, 3, 9), residual (s, m, 3) and weight (s, m, 3) of u, v and log width."""
    now = sight(arcs, seen.time_s, view)
    known = np.isfinite(seen.width_px) & np.isfinite(now.centre_px).all(axis=-1)
    residual = np.concatenate(
        [seen.centre_px - now.centre_px, np.log(seen.width_px / now.width_px)[..., None]], axis=-1
    )
    centre_sd, width_sd = centre_noise_px(seen.width_px), width_noise_log(seen.width_px)
    sigma = np.stack([centre_sd, centre_sd, width_sd], axis=-1)
    residual = np.where(known[..., None], residual, 0.0)
    sigma = np.where(known[..., None], sigma, 1.0)
    # Cauchy weight: one wrong region must not drag an arc away.
    far = np.sum((residual / sigma) ** 2, axis=-1, keepdims=True)
    weight = np.where(known[..., None], 1.0 / sigma**2 / (1.0 + far / 16.0), 0.0)
    jacobian = np.where(known[..., None, None], _jacobian(arcs, seen.time_s, view, now.points_field_m), 0.0)
    return jacobian, residual, weight


def _jacobian(arcs: Floats, times_s: Floats, view: View, points: Floats | None = None) -> Floats:
    """(s, m, 3, 9): of u, v, log width. Distortion is left out and drag taken to first order: it only steers steps."""
    elapsed = times_s - arcs[:, TIME : TIME + 1]
    if points is None:
        points = view.fly(arcs[:, LAUNCH], elapsed)
    camera = view.camera
    local = points_in_camera_m(points, camera.parameters)
    depth = np.maximum(local[..., 2], DEPTH_FLOOR_M)
    focal = camera.focal_px
    pixel_by_local = np.zeros((*local.shape[:-1], 3, 3))
    pixel_by_local[..., 0, 0] = pixel_by_local[..., 1, 1] = focal / depth
    pixel_by_local[..., 0, 2] = -focal * local[..., 0] / depth**2
    pixel_by_local[..., 1, 2] = -focal * local[..., 1] / depth**2
    pixel_by_local[..., 2, 2] = -1.0 / depth
    by_point = pixel_by_local @ camera.field_to_camera
    ahead = view.fly(arcs[:, LAUNCH], elapsed + 1e-3)
    velocity = (ahead - points) / 1e-3
    by_time = -np.einsum("smki,smi->smk", by_point, velocity)
    by_lift = [np.einsum("smki,smi->smk", by_point, _lift_slope(arcs, elapsed, points, view, k)) for k in (0, 1)]
    return np.concatenate(
        [by_point, by_point * elapsed[..., None, None], np.stack([by_time, *by_lift], axis=-1)], axis=-1
    )


def _lift_slope(arcs: Floats, elapsed: Floats, points: Floats, view: View, k: int) -> Floats:
    """(s, m, 3) change of place with lift up (0) or sideways (1)."""
    if len(arcs) > FEW_ARCS:
        return np.zeros_like(points)
    launches = arcs[:, LAUNCH]
    launches[:, TIME + k] += LIFT_STEP
    return np.asarray((view.fly(launches, elapsed) - points) / LIFT_STEP)


def _depths(points: Floats, view: View) -> Floats:
    return np.asarray(points_in_camera_m(points, view.camera.parameters)[..., 2])
