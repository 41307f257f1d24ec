"""Where a fitted flight comes down, how, and how surely: every number with the whole fit's covariance behind it."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from balltrack.field import Fence
from balltrack.flight.evidence import Setting
from balltrack.flight.path import Launch, Medium, Path, fly_to_ground
from balltrack.units import Floats

DRAWS = 400  # sd of an sd: 3.5 %; of a probability of one half: 2.5 %
SEED = 20240601  # any fixed number: the same fit gives the same landing
# Of each level component, about the wind entered: gusts, height above the ground, a person's guess (common practice,
# no source).
WIND_SD_MPS = 1.0
FOUL_RAD = np.pi / 4


class Fitted(Protocol):
    """A launch and how surely it is known: a fit has both."""

    @property
    def launch(self) -> Launch:
        """At the instant of contact."""

    @property
    def covariance(self) -> Floats:
        """(10, 10), in the order of FLIGHT_PARAMETERS."""


@dataclass(frozen=True, slots=True, eq=False)
class Landing:
    """Where and how the ball's lowest point first meets level ground."""

    carry_m: float  # level distance from the plate's rear tip
    carry_sd_m: float
    landing_m: Floats  # (2,) x, y
    landing_cov_m2: Floats  # (2, 2)
    hang_s: float
    hang_sd_s: float
    apex_m: float  # highest point of the ball's centre above the ground
    apex_sd_m: float
    tail_m: float  # sideways bend at landing against the first direction, positive toward right field
    tail_sd_m: float
    fence_clear_probability: float | None  # None without a fence


def land(fit: Fitted, setting: Setting, fence: Fence | None = None) -> Landing:
    """Fly a fitted swing to the ground.

    The fit itself gives the numbers; flights drawn from its covariance, and from what the wind may do, give how far
    they may be off.

    Parameters
    ----------
    fit : Fitted
    setting : Setting
        The same that the fit was made with.
    fence : Fence, optional
    """
    launches, medium = _draws(fit, setting)
    radius_m = setting.ball.diameter_m / 2
    path = fly_to_ground(launches, medium, radius_m)
    hang_s = path.descent_s(radius_m)
    spots = path.at(hang_s[:, None])[:, 0, :2]
    tail = _tails(launches, spots)
    carry, apex = np.hypot(spots[:, 0], spots[:, 1]), _apexes(path)
    off = spots[1:] - spots[0]
    return Landing(
        carry_m=float(carry[0]),
        carry_sd_m=_spread(carry),
        landing_m=spots[0],
        landing_cov_m2=off.T @ off / len(off),
        hang_s=float(hang_s[0]),
        hang_sd_s=_spread(hang_s),
        apex_m=float(apex[0]),
        apex_sd_m=_spread(apex),
        tail_m=float(tail[0]),
        tail_sd_m=_spread(tail),
        fence_clear_probability=None if fence is None else float(np.mean(_clears(path, fence, radius_m)[1:])),
    )


def _draws(fit: Fitted, setting: Setting) -> tuple[Launch, Medium]:
    """The fitted launch first, then draws in pairs mirrored about it, each in its own wind."""
    normals = np.random.default_rng(SEED).standard_normal((DRAWS // 2, len(fit.covariance) + 2))
    normals = np.concatenate([np.zeros((1, normals.shape[1])), normals, -normals])
    share, directions = np.linalg.eigh(fit.covariance)
    root = directions * np.sqrt(np.maximum(share, 0.0))
    off = normals[:, :-2] @ root.T
    nominal = fit.launch
    launches = Launch(
        nominal.position_m + off[:, :3],
        nominal.velocity_mps + off[:, 3:6],
        nominal.drag + off[:, 7],
        nominal.lift_up + off[:, 8],
        nominal.lift_side + off[:, 9],
    )
    gusts = np.concatenate([WIND_SD_MPS * normals[:, -2:], np.zeros((len(normals), 1))], axis=1)
    return launches, Medium(setting.medium.air_factor_per_m, setting.medium.wind_mps + gusts)


def _spread(values: Floats) -> float:
    """Root mean square of the draws about the fitted value."""
    return float(np.sqrt(np.mean((values[1:] - values[0]) ** 2)))


def _tails(launches: Launch, spots: Floats) -> Floats:
    velocity = np.asarray(launches.velocity_mps)
    level_mps = np.maximum(np.hypot(velocity[:, 0], velocity[:, 1]), 1e-9)
    right = np.stack([velocity[:, 1], -velocity[:, 0]], axis=1) / level_mps[:, None]
    return np.asarray(np.sum((spots - np.asarray(launches.position_m)[:, :2]) * right, axis=1))


def _apexes(path: Path) -> Floats:
    """Highest point of each path: a knot's climbing speed over its deceleration says how much later the top is."""
    rising = path.velocity_mps[:, :, 2] > 0
    last = np.maximum(np.cumprod(rising, axis=1).sum(axis=1) - 1, 0)
    rows = np.arange(len(last))
    climb_mps = np.maximum(path.velocity_mps[rows, last, 2], 0.0)
    fall_mps2 = np.maximum(-path.acceleration_mps2[rows, last, 2], 0.1)
    top_s = path.time_s[last] + climb_mps / fall_mps2
    return path.at(top_s[:, None])[:, 0, 2]


def _clears(path: Path, fence: Fence, radius_m: float) -> Floats:
    """1.0 where the ball passes over the fence in fair ground, whole, on the fly."""
    x, y, _ = np.moveaxis(path.position_m, 2, 0)
    spray_rad = np.arctan2(x, y)
    fair = np.abs(spray_rad) <= FOUL_RAD
    beyond_m = np.hypot(x, y) - fence.distance_m(np.clip(spray_rad, -FOUL_RAD, FOUL_RAD))
    crosses = (beyond_m[:, :-1] < 0) & (beyond_m[:, 1:] >= 0) & fair[:, 1:]
    first, rows = np.argmax(crosses, axis=1), np.arange(len(x))
    part = beyond_m[rows, first] / (beyond_m[rows, first] - beyond_m[rows, first + 1])
    cross_s = path.time_s[first] + part * (path.time_s[1] - path.time_s[0])
    height_m = path.at(cross_s[:, None])[:, 0, 2]
    return np.where(crosses.any(axis=1) & (height_m - radius_m > fence.height_m), 1.0, 0.0)
