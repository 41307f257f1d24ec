"""The path of one or many balls through the air."""

from dataclasses import dataclass

import numpy as np

from balltrack.flight.forces import GRAVITY_FIELD_MPS2, Acceleration, drag_and_lift, lift_axis
from balltrack.units import Floats

# Fourth-order Runge-Kutta. A batted ball's velocity changes over seconds: at this step a 5 s flight at up to 65 m/s is
# right to 0.02 mm, where 0.2 s would leave 0.6 mm. Many balls at once cost little more than one.
STEP_S = 0.08
LONGEST_FLIGHT_S = 20.0  # a ball straight up at 65 m/s, in a vacuum, is back after 13 s
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
        knot, part, step_s = self._place(time_s)
        rows = np.arange(len(self.position_m))[:, None]
        before, after = self.position_m[rows, knot], self.position_m[rows, knot + 1]
        slope, slope_after = self.velocity_mps[rows, knot] * step_s, self.velocity_mps[rows, knot + 1] * step_s
        bend = self.acceleration_mps2[rows, knot] * step_s**2 / 2
        bend_after = self.acceleration_mps2[rows, knot + 1] * step_s**2 / 2
        gap, turn, change = after - before - slope - bend, slope_after - slope - 2 * bend, bend_after - bend
        cubic = 10 * gap - 4 * turn + change
        quartic = -15 * gap + 7 * turn - 2 * change
        quintic = 6 * gap - 3 * turn + change
        s = part[..., None]
        return np.asarray(before + s * (slope + s * (bend + s * (cubic + s * (quartic + s * quintic)))))

    def coarsely_at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Positions and velocities at (n,) common or (b, n) own times, by cubic Hermite interpolation. [(b, n, 3)]

        Within 0.5 mm of `at` for batted balls and knots 0.25 s apart.
        """
        knot, part, step_s = self._place(time_s)
        count = len(self.time_s)
        states = np.concatenate([self.position_m, self.velocity_mps * step_s], axis=2).reshape(-1, 6)
        rows = knot + count * np.arange(len(self.position_m))[:, None]
        here, there = states.take(rows, axis=0), states.take(rows + 1, axis=0)
        gap, slope, after = there[..., :3] - here[..., :3], here[..., 3:], there[..., 3:]
        square, cube = 3 * gap - 2 * slope - after, slope + after - 2 * gap
        s = part[..., None]
        points = here[..., :3] + s * (slope + s * (square + s * cube))
        return points, (slope + s * (2 * square + 3 * s * cube)) / step_s

    def _place(self, time_s: Floats) -> tuple[np.ndarray, Floats, float]:
        step_s = float(self.time_s[1] - self.time_s[0])
        steps = (np.asarray(time_s) - self.time_s[0]) / step_s
        steps = np.broadcast_to(steps, (len(self.position_m), steps.shape[-1]))
        knot = np.clip(np.floor(steps), 0, len(self.time_s) - 2).astype(np.int64)
        return knot, steps - knot, step_s

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
    position, velocity, acceleration = _start(launch, medium)
    steps = max(int(np.ceil(until_s / step_s)), 1)
    ahead = integrate(acceleration, position, velocity, steps * step_s, step_s=step_s)
    if since_s >= 0:
        return ahead
    back = integrate(acceleration, position, velocity, -int(np.ceil(-since_s / step_s)) * step_s, step_s=step_s)
    return Path(
        np.concatenate([back.time_s[:0:-1], ahead.time_s]),
        np.concatenate([back.position_m[:, :0:-1], ahead.position_m], axis=1),
        np.concatenate([back.velocity_mps[:, :0:-1], ahead.velocity_mps], axis=1),
        np.concatenate([back.acceleration_mps2[:, :0:-1], ahead.acceleration_mps2], axis=1),
    )


def fly_to_ground(launch: Launch, medium: Medium, ground_m: float) -> Path:
    """Fly a batch of launches until each ball's centre is below a height and falling (at most 20 s)."""
    position, velocity, acceleration = _start(launch, medium)
    return integrate(acceleration, position, velocity, LONGEST_FLIGHT_S, ground_m)


def _start(launch: Launch, medium: Medium) -> tuple[Floats, Floats, Acceleration]:
    position, velocity, drag, up, side = np.broadcast_arrays(
        np.atleast_2d(launch.position_m),
        np.atleast_2d(launch.velocity_mps),
        np.atleast_1d(launch.drag)[:, None],
        np.atleast_1d(launch.lift_up)[:, None],
        np.atleast_1d(launch.lift_side)[:, None],
    )
    wind = np.atleast_2d(medium.wind_mps)
    axis = lift_axis(velocity, up[:, 0], side[:, 0])
    launch_speed_mps = np.linalg.norm(velocity - wind, axis=1)

    def acceleration(_time_s: float, velocity_mps: Floats) -> Floats:
        air = drag_and_lift(velocity_mps - wind, medium.air_factor_per_m, drag[:, 0], axis, launch_speed_mps)
        return air + GRAVITY_FIELD_MPS2

    return position, velocity, acceleration


def integrate(
    acceleration: Acceleration,
    position_m: Floats,
    velocity_mps: Floats,
    until_s: float,
    ground_m: float = -np.inf,
    step_s: float = STEP_S,
) -> Path:
    """Integrate motion under an acceleration that depends on time and velocity (classical Runge-Kutta, order 4).

    Parameters
    ----------
    acceleration : function
        (time [s], (b, 3) velocity [m/s]) -> (b, 3) [m/s²]
    position_m, velocity_mps : (b, 3) arrays
        At time 0.
    until_s : float
        End; negative runs backward. [s]
    ground_m : float
        Stop early once every ball is below this height and falling. [m]
    step_s : float
        Of the integration, at most. [s]
    """
    count = max(int(np.ceil(abs(until_s) / step_s - 1e-9)), 1)
    h = until_s / count
    position, velocity = np.array(position_m, dtype=float), np.array(velocity_mps, dtype=float)
    knots = [(position, velocity, acceleration(0.0, velocity))]
    for k in range(count):
        t, (position, velocity, a1) = k * h, knots[-1]
        v2 = velocity + h / 2 * a1
        a2 = acceleration(t + h / 2, v2)
        v3 = velocity + h / 2 * a2
        a3 = acceleration(t + h / 2, v3)
        v4 = velocity + h * a3
        a4 = acceleration(t + h, v4)
        position = position + h / 6 * (velocity + 2 * v2 + 2 * v3 + v4)
        velocity = velocity + h / 6 * (a1 + 2 * a2 + 2 * a3 + a4)
        knots.append((position, velocity, acceleration(t + h, velocity)))
        if ground_m > -np.inf and np.all((position[:, 2] < ground_m) & (velocity[:, 2] < 0)):
            break
    positions, velocities, accelerations = (np.stack(part, axis=1) for part in zip(*knots, strict=True))
    return Path(h * np.arange(len(knots), dtype=np.float64), positions, velocities, accelerations)
