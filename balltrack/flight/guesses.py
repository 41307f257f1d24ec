"""The flight as the tracker may ask for it: many guessed launches, usual drag, no spin. To find a ball, not to report it."""

from collections.abc import Callable

import numpy as np

from balltrack.air import Air
from balltrack.field import Ball
from balltrack.flight.forces import air_factor_per_m
from balltrack.flight.path import Launch, Medium, fly
from balltrack.units import Floats

BEFORE_S = 0.4  # guesses are also followed back before contact, to tell a pitch from a hit


def usual_flight(ball: Ball, air: Air) -> Callable[[Floats, Floats], Floats]:
    """Give the function (launches (s, 6), elapsed_s (s, m)) -> points_field_m (s, m, 3) for this ball in this air.

    Elapsed times are held within 0.4 s before contact.
    """
    medium = Medium(air_factor_per_m(ball, air), np.array([*air.wind_mps, 0.0]))

    def points_field_m(launches: Floats, elapsed_s: Floats) -> Floats:
        elapsed = np.maximum(elapsed_s, -BEFORE_S)
        launch = Launch(launches[:, :3], launches[:, 3:], ball.drag)
        until, since = max(float(elapsed.max(initial=0.0)), 0.01), min(float(elapsed.min(initial=0.0)), 0.0)
        return fly(launch, medium, until, since).at(elapsed)

    return points_field_m
