"""The path of one or many balls through the air."""

import math
from dataclasses import dataclass

import numpy as np

from balltrack.flight.hermite import coarsely, finely
from balltrack.flight.motion import march
from balltrack.units import Floats

# Fourth-order Runge-Kutta. A batted ball's velocity changes over seconds: at this step a 5 s flight at up to 65 m/s is
# right to 0.02 mm, where 0.2 s would leave 0.6 mm. Many balls at once cost little more than one.
STEP_S = 0.08
LONGEST_FLIGHT_S = 20.0  # a ball straight up at 65 m/s, in a vacuum, is back after 13 s
NO_GROUND_M = -np.inf
BISECTIONS = 40  # of a step of 0.08 s: to 1e-13 s


@dataclass(frozen=True, slots=True, eq=False)
class Launch:
    """How one ball, or each of a batch of b, leaves the bat."""

    position_m: Floats  # (3,) or (b, 3) centre of the ball, field frame
    velocity_mps: Floats  # (3,) or (b, 3)
    drag: Floats | float  # drag coefficient, one or (b,)
    lift_up: Floats | float = 0.0  # lift coefficient, positive for backspin
    lift_side: Floats | float = 0.0  # lift coefficient, positive toward right field


@dataclass(frozen=True, slots=True, eq=False)
class Medium:
    """The air as a given ball feels it."""

    air_factor_per_m: float  # rho A / 2m
    wind_mps: Floats  # (3,) or (b, 3) field frame


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """b flights on common, evenly spaced knots. Time 0 is the launch."""

    time_s: Floats  # (k,) evenly spaced
    position_m: Floats  # (b, k, 3)
    velocity_mps: Floats  # (b, k, 3)
    acceleration_mps2: Floats  # (b, k, 3)

    def at(self, time_s: Floats) -> Floats:
        """Positions at (n,) common or (b, n) own times, by quintic Hermite interpolation. [(b, n, 3) m]"""
        return finely(self._steps(time_s), self.position_m, self.velocity_mps, self.acceleration_mps2, self._step_s)

    def coarsely_at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Positions and velocities at (n,) common or (b, n) own times, by cubic Hermite interpolation. [(b, n, 3)]

        Within 0.5 mm of `at` for batted balls and knots 0.25 s apart.
        """
        return coarsely(self._steps(time_s), self.position_m, self.velocity_mps, self._step_s)

    @property
    def _step_s(self) -> float:
        return float(self.time_s[1] - self.time_s[0])

    def _steps(self, time_s: Floats) -> Floats:
        """(b, n) times in steps since the first knot."""
        steps = (np.asarray(time_s) - self.time_s[0]) / self._step_s
        if steps.shape[:-1] == (len(self.position_m),):
            return np.ascontiguousarray(steps)
        return np.ascontiguousarray(np.broadcast_to(steps, (len(self.position_m), steps.shape[-1])))

    def descent_s(self, height_m: float) -> Floats:
        """When each flight first comes down through a height. [(b,) s] Zero where it never was above it."""
        height = self.position_m[..., 2]
        falls = (height[:, :-1] > height_m) & (height[:, 1:] <= height_m)
        first = np.argmax(falls, axis=1)
        low, high = self.time_s[first], self.time_s[first + 1]
        for _ in range(BISECTIONS):
            middle = (low + high) / 2
            above = self.at(middle[:, None])[:, 0, 2] > height_m
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return np.where(falls.any(axis=1), (low + high) / 2, 0.0)


def fly(launch: Launch, medium: Medium, until_s: float, since_s: float = 0.0, step_s: float = STEP_S) -> Path:
    """Fly a batch of launches over a span of time.

    Parameters
    ----------
    launch : Launch
        One launch counts as a batch of one.
    medium : Medium
    until_s, since_s : float
        Span that the path must cover, relative to the launch; ``since_s`` may be negative (flown backward). [s]
    step_s : float
        Between knots. [s]
    """
    return fly_rows(_rows(launch, medium), medium, until_s, since_s, step_s)


def fly_rows(launches: Floats, medium: Medium, until_s: float, since_s: float = 0.0, step_s: float = STEP_S) -> Path:
    """The same of launches (b, 9): position [m], velocity [m/s], drag, lift up, lift sideways."""
    ahead = max(math.ceil(until_s / step_s), 1)
    back = math.ceil(-since_s / step_s) if since_s < 0 else 0
    wind_mps = _winds(medium, len(launches))
    place, velocity, acceleration, _ = march(
        launches, wind_mps, medium.air_factor_per_m, step_s, back, ahead, NO_GROUND_M
    )
    return Path(step_s * np.arange(-back, ahead + 1, dtype=np.float64), place, velocity, acceleration)


def fly_to_ground(launch: Launch, medium: Medium, ground_m: float) -> Path:
    """Fly a batch of launches until each ball's centre is below a height and falling (at most 20 s)."""
    launches = _rows(launch, medium)
    wind_mps = _winds(medium, len(launches))
    most = int(np.ceil(LONGEST_FLIGHT_S / STEP_S))
    *knots, reached = march(launches, wind_mps, medium.air_factor_per_m, STEP_S, 0, most, ground_m)
    place, velocity, acceleration = (np.ascontiguousarray(part[:, :reached]) for part in knots)
    return Path(STEP_S * np.arange(reached, dtype=np.float64), place, velocity, acceleration)


def _rows(launch: Launch, medium: Medium) -> Floats:
    """(b, 9) the launches as `march` takes them."""
    place, velocity, wind_mps = (np.atleast_2d(x) for x in (launch.position_m, launch.velocity_mps, medium.wind_mps))
    coefficients = [np.atleast_1d(x) for x in (launch.drag, launch.lift_up, launch.lift_side)]
    count = max(len(each) for each in (place, velocity, wind_mps, *coefficients))
    rows = np.empty((count, 9))
    rows[:, :3], rows[:, 3:6] = place, velocity
    for column, each in enumerate(coefficients, 6):
        rows[:, column] = each
    return rows


def _winds(medium: Medium, count: int) -> Floats:
    """(b, 3) the wind that each of so many flights meets. [m/s]"""
    winds = np.empty((count, 3))
    winds[:] = medium.wind_mps
    return winds
