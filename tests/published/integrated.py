"""Motion under laws that published examples use and this package does not: drag that changes with speed, dying spin."""

from collections.abc import Callable

import numpy as np

from balltrack.flight.motion import GRAVITY_MPS2
from balltrack.flight.path import STEP_S, Path
from balltrack.units import Floats

GRAVITY_FIELD_MPS2: Floats = np.array([0.0, 0.0, -GRAVITY_MPS2])

Acceleration = Callable[[float, Floats], Floats]
"""(time since launch [s], (b, 3) velocity [m/s]) -> (b, 3) acceleration [m/s²]."""


def integrate(acceleration: Acceleration, position_m: Floats, velocity_mps: Floats, until_s: float) -> Path:
    """The path of (b, 3) starts under an acceleration (classical Runge-Kutta, order 4)."""
    count = int(np.ceil(until_s / STEP_S))
    h = until_s / count
    position, velocity = position_m, velocity_mps
    knots = [(position, velocity, acceleration(0.0, velocity))]
    for t in h * np.arange(count):
        v1, a1 = velocity, knots[-1][2]
        v2 = v1 + h / 2 * a1
        a2 = acceleration(t + h / 2, v2)
        v3 = v1 + h / 2 * a2
        a3 = acceleration(t + h / 2, v3)
        v4 = v1 + h * a3
        a4 = acceleration(t + h, v4)
        position = position + h / 6 * (v1 + 2 * v2 + 2 * v3 + v4)
        velocity = v1 + h / 6 * (a1 + 2 * a2 + 2 * a3 + a4)
        knots.append((position, velocity, acceleration(t + h, velocity)))
    parts = (
        np.stack([np.broadcast_to(each, (len(position_m), 3)) for each in part], axis=1)
        for part in zip(*knots, strict=True)
    )
    return Path(h * np.arange(len(knots), dtype=np.float64), *parts)
