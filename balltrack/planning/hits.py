"""The hits that a lesson is expected to bring, spread over what such hits do."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from balltrack.air import standard_air
from balltrack.contact import CONTACT_M
from balltrack.field import Ball, Fence
from balltrack.flight.forces import LIFT_UP_PRIOR, air_factor
from balltrack.flight.path import Launch, Medium, Path, fly
from balltrack.lesson import Delivery
from balltrack.units import MPS_PER_MPH, Floats

Side = Literal["right", "left"]

# Usual exit speeds of grown players, mean and sd; launch and spray by delivery: mean launch, its sd, sd of spray. A
# batter pulls a little more than not. All common practice, no source; what counts is that hits of this kind occur.
USUAL_SPEED_MPS = {
    "softball-12": (65 * MPS_PER_MPH, 8 * MPS_PER_MPH),
    "softball-11": (65 * MPS_PER_MPH, 8 * MPS_PER_MPH),
    "baseball": (75 * MPS_PER_MPH, 9 * MPS_PER_MPH),
}
LAUNCH_DEG: dict[Delivery, tuple[float, float, float]] = {
    "tee": (12.0, 12.0, 16.0),
    "toss": (12.0, 14.0, 18.0),
    "live": (12.0, 17.0, 22.0),
}
PULL_DEG = 6.0
WIDEST_DEG = 60.0  # of spray: fouls further off are not what a phone is placed for

LATEST_S = 1.3  # after contact: what comes later makes errors smaller by less than a twentieth
LONGEST_READOUT_S = 0.06
HIDDEN_S = 0.03  # bat and hands hide the ball so long after contact (common practice, no source)
# Rows that follow each other within this share of the time since contact look alike, and are counted as one row with
# the weight of all: a tenth of the work for the same sum.
ALIKE_SHARE = 0.12
# Golden ratio's sister in three dimensions: points k * these, modulo 1, fill the cube evenly however many there are
# (M. Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018).
EVEN_STEPS = 1 / 1.2207440846057596 ** np.arange(1.0, 4.0)


@dataclass(frozen=True, slots=True)
class Expected:
    """What hits are expected."""

    bats: Side = "right"
    delivery: Delivery = "tee"
    speed_mps: float = USUAL_SPEED_MPS["softball-12"][0]
    speed_sd_mps: float = USUAL_SPEED_MPS["softball-12"][1]

    @property
    def sds(self) -> tuple[float, float, float]:
        """How far hits differ: exit speed [m/s], launch and spray [deg]."""
        return self.speed_sd_mps, *LAUNCH_DEG[self.delivery][1:]


@dataclass(frozen=True, slots=True, eq=False)
class Hit:
    """One hit, flown until it is down, stopped, or so far off that it adds little."""

    launch: Launch
    time_s: Floats  # (k,) since contact, of the rows kept
    rows: Floats  # (k,) how many frames each row stands for
    points_m: Floats  # (k, 3) the ball's centre
    after_m: Floats  # (k, 3) a millisecond later
    path: Path


def expected_hits(
    expected: Expected, ball: Ball, fence: Fence | None, frames_per_s: float, count: int
) -> tuple[Hit, ...]:
    """``count`` hits that stand for all, alike in weight; a left-handed batter's mirror a right-handed one's.

    ``fence`` is what ends a flight: a ball that reaches it is taken as stopped, however high.
    """
    from scipy.special import ndtri

    turn = 1.0 if expected.bats == "right" else -1.0
    mean_launch, launch_sd, spray_sd = LAUNCH_DEG[expected.delivery]
    normals = ndtri((0.5 + np.arange(1, count + 1)[:, None] * EVEN_STEPS) % 1.0)
    speed = np.maximum(expected.speed_mps + expected.speed_sd_mps * normals[:, 0], 0.3 * expected.speed_mps)
    rise = np.radians(mean_launch + launch_sd * normals[:, 1])
    across = np.radians(turn * np.clip(spray_sd * normals[:, 2] - PULL_DEG, -WIDEST_DEG, WIDEST_DEG))
    velocities = speed[:, None] * np.column_stack(
        [np.cos(rise) * np.sin(across), np.cos(rise) * np.cos(across), np.sin(rise)]
    )
    medium = Medium(air_factor(standard_air().density_kg_m3, ball.diameter_m, ball.mass_kg), np.zeros(3))
    since_s, rows = _times(frames_per_s)
    return tuple(
        _flown(Launch(CONTACT_M, velocity, ball.drag, LIFT_UP_PRIOR.mean, 0.0), medium, (since_s, rows), ball, fence)
        for velocity in velocities
    )


def _times(frames_per_s: float) -> tuple[Floats, Floats]:
    """Times since contact of the rows kept, ever further apart, and how many frames each stands for."""
    times, step = [HIDDEN_S], 1 / frames_per_s
    while times[-1] < LATEST_S:
        times.append(times[-1] + max(step, ALIKE_SHARE * times[-1]))
    since_s = np.array(times)
    return since_s[:-1], np.diff(since_s) / step


def _flown(launch: Launch, medium: Medium, times: tuple[Floats, Floats], ball: Ball, fence: Fence | None) -> Hit:
    since_s, rows = times
    path = fly(launch, medium, float(since_s[-1]) + LONGEST_READOUT_S)
    points, after = path.at(since_s)[0], path.at(since_s + 0.001)[0]
    over = points[:, 2] <= ball.diameter_m / 2
    if fence is not None:
        over |= np.hypot(points[:, 0], points[:, 1]) >= fence.distance_m(np.arctan2(points[:, 0], points[:, 1]))
    kept = np.cumsum(over) == 0
    return Hit(launch, since_s[kept], rows[kept], points[kept], after[kept], path)
