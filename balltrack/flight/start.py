"""A first flight to begin the fit from: rays, apparent sizes and gravity, all linear in position and velocity."""

import numpy as np

from balltrack.camera.model import rays_field
from balltrack.flight.evidence import SIZE_BIAS, SIZE_BIAS_SD, Evidence, launch_of
from balltrack.flight.path import Launch, fly
from balltrack.units import Floats

FEWEST_ROWS = 3  # half a track that gives a guess
ROUNDS = 5  # of solving, weighing the rows and bending the path by drag; it settles in 3 or 4
FASTEST_MPS = 80.0  # a wilder first guess is pulled in to this before drag bends it
NEAREST_M = 1.0  # a ball nearer to the phone is not weighed as if it were seen yet more sharply
LOOSE_TIME_SD_S = 0.015  # when contact is known worse than this, other times are tried too


def guesses(evidence: Evidence) -> list[Floats]:
    """(p,) parameter vectors to begin from. Halves of the track are tried too: one of them may be free of strays."""
    contact, rows = evidence.contact, len(evidence.time_s)
    times = [contact.time_s]
    if contact.time_sd_s > LOOSE_TIME_SD_S:
        times += [contact.time_s - contact.time_sd_s, contact.time_s + contact.time_sd_s]
    parts = [slice(0, rows)]
    if rows >= 2 * FEWEST_ROWS:
        parts += [slice(0, rows // 2), slice(rows // 2, rows)]
    found = [_linear_guess(evidence.part(part), times[0], True) for part in parts]
    return found + [_linear_guess(evidence, time_s, sized) for time_s in times for sized in (True, False)][1:]


def from_launch(evidence: Evidence, launch: Launch) -> Floats:
    """(p,) parameter vector of a launch that somebody else has found."""
    vector = _vector(evidence, evidence.contact.time_s, np.asarray(launch.position_m), np.asarray(launch.velocity_mps))
    vector[7:10] = np.ravel(launch.drag)[0], np.ravel(launch.lift_up)[0], np.ravel(launch.lift_side)[0]
    return vector


def _vector(evidence: Evidence, time_s: float, position_m: Floats, velocity_mps: Floats) -> Floats:
    vector = np.zeros(len(evidence.scale))
    vector[:3], vector[3:6], vector[6] = position_m, velocity_mps, time_s
    vector[7], vector[8] = evidence.setting.ball.drag, evidence.setting.spin.up.mean
    return vector


def _linear_guess(evidence: Evidence, time_s: float, sized: bool) -> Floats:
    """Least squares for p(t) = x + v t + bend(t), with the bend by gravity, drag and lift from the round before.

    A row says that the ball lies on its ray (two equations across it) and, where its size is trusted, how far along
    it (one equation). The contact's prior adds three.
    """
    camera, contact = evidence.setting.camera, evidence.contact
    rays = np.nan_to_num(rays_field(evidence.centre_px, camera))  # no ray: no say, but in the fit itself
    since_s = evidence.time_s - time_s
    distance_m, distance_sd_m = _distances(evidence, sized)
    contact_reach_m = float(np.linalg.norm(contact.position_m - camera.position_field_m))
    reach_m = np.where(np.isfinite(distance_m), distance_m, contact_reach_m)  # weighs the rows; learnt anew each round
    across_sd = np.mean(evidence.centre_sd_px, axis=1) / camera.focal_px
    row_weight = np.ones(len(since_s))
    vector = _vector(evidence, time_s, contact.position_m, np.array([0.0, 1.0, 0.0]))
    bend = np.zeros((len(since_s), 3))
    bend[:, 2] = -9.8 / 2 * since_s**2
    for _ in range(ROUNDS):
        along = np.where(np.isfinite(distance_m), row_weight / distance_sd_m, 0.0)
        target = camera.position_field_m - bend + np.nan_to_num(distance_m)[:, None] * rays
        weights = _row_weights(rays, row_weight / (across_sd * reach_m), along)
        state = _solve(weights, since_s, target, evidence)
        vector[:3], vector[3:6] = state[:3], _tamed(state[3:])
        path = fly(launch_of(vector[None]), evidence.setting.medium, float(since_s.max()), float(since_s.min()))
        positions = path.at(since_s)[0]
        bend = positions - vector[:3] - vector[3:6] * since_s[:, None]
        away = positions - camera.position_field_m
        reach_m = np.maximum(np.linalg.norm(away, axis=1), NEAREST_M)
        miss = np.linalg.norm(np.cross(away, rays), axis=1) / (across_sd * reach_m)
        miss += np.nan_to_num(np.abs(reach_m - distance_m) / distance_sd_m)
        row_weight = 1 / np.sqrt(1 + miss / max(float(np.median(miss)), 1.0))
    return vector


def _distances(evidence: Evidence, sized: bool) -> tuple[Floats, Floats]:
    """(n,) distance along each ray from the apparent size, and its sd; NaN where it is not to be used. [m]"""
    if not sized:
        return np.full(len(evidence.time_s), np.nan), np.full(len(evidence.time_s), np.nan)
    # A sphere off the axis by t covers f D cos(t)^-3/2 / distance pixels; along the ray the cosine's share of a
    # phone's field of view is at most a tenth, which the fit itself then gets right.
    expected_px = evidence.diameter_px / np.exp(SIZE_BIAS)
    distance_m = evidence.setting.camera.focal_px * evidence.setting.ball.diameter_m / expected_px
    return distance_m, distance_m * np.hypot(evidence.size_sd, SIZE_BIAS_SD)


def _row_weights(rays: Floats, across: Floats, along: Floats) -> Floats:
    """(n, 3, 3) matrices that weigh a miss across the ray by ``across`` and along it by ``along``. [1/m]"""
    onto = rays[:, :, None] * rays[:, None, :]
    return np.asarray((np.eye(3) - onto) * across[:, None, None] + onto * along[:, None, None])


def _solve(weights: Floats, since_s: Floats, target: Floats, evidence: Evidence) -> Floats:
    """(6,) position and velocity whose straight line passes the weighted targets and the contact's prior."""
    rows = np.concatenate([weights, weights * since_s[:, None, None]], axis=2).reshape(-1, 6)
    sides = np.einsum("nij,nj->ni", weights, target).ravel()
    near = np.diag(1 / evidence.contact.position_sd_m)
    rows = np.concatenate([rows, np.concatenate([near, np.zeros((3, 3))], axis=1)])
    sides = np.concatenate([sides, near @ evidence.contact.position_m])
    return np.asarray(np.linalg.lstsq(rows, sides, rcond=None)[0])


def _tamed(velocity_mps: Floats) -> Floats:
    speed_mps = float(np.linalg.norm(velocity_mps))
    return velocity_mps * min(1.0, FASTEST_MPS / max(speed_mps, 1e-9))
