"""Many guessed flights at once: where each would be seen, and how a few sightings bend each guess.

An arc is a row of nine numbers: contact point [m], velocity at contact [m/s], contact time [s of the clip], lift up
and lift sideways (coefficients). Arcs serve to find the ball; the flight room fits it. How a ball flies is passed in,
so that the physics stands once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import Camera, points_in_camera_m, project_in_camera
from balltrack.track import bending
from balltrack.track.bending import DEPTH_FLOOR_M, SIZE, Course, Eye, Known, Missed
from balltrack.units import Floats

# launches (s, 8), elapsed_s (s, m) -> points [m] and velocities [m/s], (s, m, 3) field frame
Fly = Callable[[Floats, Floats], tuple[Floats, Floats]]

TIME = 6  # column of the contact time
LAUNCH = [0, 1, 2, 3, 4, 5, 7, 8]  # columns of an arc that make a launch: place, velocity, lift
LIFT_STEP = 0.02
REACH_SDS = 3.0
FEW_ARCS = 200  # the lift of a few arcs is fitted; of many first guesses, from two sightings each, it cannot be told


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
class _Flown:
    """Where arcs are at given times, and how that changes with time and lift."""

    elapsed_s: Floats  # (s, m) since contact
    points_field_m: Floats  # (s, m, 3)
    velocity_mps: Floats  # (s, m, 3)
    by_lift: Floats  # (s, m, 3, 2) [m] change of place with lift up and sideways; of many arcs it is not followed


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
    points, _ = view.fly(arcs[:, LAUNCH], elapsed)
    return _sighting(points, _in_camera(points, view), view)


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
    known, eye = Known(prior.mean, prior.sd, REACH_SDS), _eye(view)
    centre_px, width_px = np.ascontiguousarray(seen.centre_px), np.ascontiguousarray(seen.width_px)
    centre_sd_px, width_sd_log = centre_noise_px(width_px), width_noise_log(width_px)
    covariance = np.broadcast_to(np.diag(prior.sd**2), (len(arcs), SIZE, SIZE))
    for _ in range(rounds):
        flown = _fly(arcs, seen.time_s, view)
        local = _in_camera(flown.points_field_m, view)
        now = _sighting(flown.points_field_m, local, view)
        missed = Missed(now.centre_px, now.width_px, centre_px, width_px, centre_sd_px, width_sd_log)
        arcs, covariance = bending.bent(np.ascontiguousarray(arcs), _course(flown, local), missed, known, eye)
    return arcs, covariance


def sight_and_spread(arcs: Floats, covariance: Floats, times_s: Floats, view: View) -> tuple[Sighting, Floats]:
    """What `sight` tells, and how surely: the covariance (s, m, 2, 2) [px²] of each arc's centre at each time (m,).

    It follows from the arcs' own covariances (s, 9, 9).
    """
    return _seen_surely(_fly(arcs, times_s[None], view), covariance, view)


def sight_in_frames(arcs: Floats, covariance: Floats, stamps_s: Floats, view: View) -> tuple[Sighting, Floats]:
    """The same of frames of these timestamps (m,): they show the ball where it is when the sensor reads its row."""
    flown = _fly(arcs, stamps_s[None], view)
    height = view.camera.size_px[1]
    v = _sighting(flown.points_field_m, _in_camera(flown.points_field_m, view), view).centre_px[..., 1]
    flown = _later(flown, view.camera.readout_s * np.clip(np.nan_to_num(v), 0, height) / height)
    return _seen_surely(flown, covariance, view)


def _seen_surely(flown: _Flown, covariance: Floats, view: View) -> tuple[Sighting, Floats]:
    local = _in_camera(flown.points_field_m, view)
    spread = bending.spreads(_course(flown, local), np.ascontiguousarray(covariance), _eye(view))
    return _sighting(flown.points_field_m, local, view), spread


def _course(flown: _Flown, local: Floats) -> Course:
    elapsed_s = np.ascontiguousarray(flown.elapsed_s)
    return Course(elapsed_s, local, np.ascontiguousarray(flown.velocity_mps), flown.by_lift)


def _eye(view: View) -> Eye:
    return Eye(view.camera.field_to_camera, view.camera.focal_px)


def centre_noise_px(width_px: Floats) -> Floats:
    """How far a region's centre may lie from the ball's: compression, shade and a merged shadow grow with size."""
    return np.asarray(0.8 + 0.06 * width_px)


def width_noise_log(width_px: Floats) -> Floats:
    """Relative error of a region's width, as a standard deviation of its logarithm."""
    return np.asarray(0.15 + 0.9 / np.maximum(width_px, 1.0))


def _fly(arcs: Floats, times_s: Floats, view: View) -> _Flown:
    """Fly arcs once, and once more with a little more lift of either kind: all in one batch. Times (1, m) or (s, m)."""
    elapsed = times_s - arcs[:, TIME : TIME + 1]
    launches, count = arcs[:, LAUNCH], len(arcs)
    if count > FEW_ARCS:
        points, velocity = view.fly(launches, elapsed)
        return _Flown(elapsed, points, velocity, np.zeros((*points.shape, 2)))
    stepped = np.concatenate((launches, launches, launches))
    for k in (0, 1):
        stepped[(k + 1) * count : (k + 2) * count, TIME + k] += LIFT_STEP
    points, velocity = view.fly(stepped, np.concatenate((elapsed, elapsed, elapsed)))
    here, by_lift = points[:count], np.empty((*elapsed.shape, 3, 2))
    for k in (0, 1):
        by_lift[..., k] = (points[(k + 1) * count : (k + 2) * count] - here) / LIFT_STEP
    return _Flown(elapsed, here, velocity[:count], by_lift)


def _later(flown: _Flown, by_s: Floats) -> _Flown:
    """A little later, (s, m): in the fiftieth of a second that a sensor takes, gravity and drag make a few mm."""
    points = flown.points_field_m + flown.velocity_mps * by_s[..., None]
    return _Flown(flown.elapsed_s + by_s, points, flown.velocity_mps, flown.by_lift)


def _in_camera(points_field_m: Floats, view: View) -> Floats:
    """(s, m, 3) of the camera frame."""
    return points_in_camera_m(points_field_m, view.camera.parameters)


def _sighting(points: Floats, local: Floats, view: View) -> Sighting:
    depth = np.maximum(local[..., 2], DEPTH_FLOOR_M)
    centre = project_in_camera(local, view.camera.parameters)
    return Sighting(centre, view.camera.focal_px * view.ball_diameter_m / depth, points)
