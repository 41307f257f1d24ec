"""The flight as the tracker may ask for it: many guessed launches, usual drag. To find a ball, not to report it."""

from functools import partial

import numpy as np

from balltrack.flight.evidence import Setting
from balltrack.flight.path import Launch, Medium, fly_rows
from balltrack.track.arcs import Fly
from balltrack.units import Floats

BEFORE_S = 0.4  # guesses are also followed back before contact, to tell a pitch from a hit
STEP_S = 0.25  # of the integration: 64 flights of 2.3 s were right to 0.7 mm, where candidates lie centimetres off


def usual_flight(setting: Setting, before_s: float = BEFORE_S) -> Fly:
    """Give the function (launches (s, 8), elapsed_s (s, m)) -> points [m] and velocities [m/s], (s, m, 3) field frame.

    For this ball in this air. A launch is place, velocity, lift up, lift sideways. Elapsed times are held within
    ``before_s`` before contact.
    """
    return partial(_fly_usual, setting.medium, setting.ball.drag, before_s)  # no closure: it travels to other processes


def _fly_usual(
    medium: Medium, drag: float, before_s: float, launches: Floats, elapsed_s: Floats
) -> tuple[Floats, Floats]:
    elapsed = np.maximum(elapsed_s, -before_s)
    rows = np.empty((len(launches), 9))
    rows[:, :6], rows[:, 6], rows[:, 7:] = launches[:, :6], drag, launches[:, 6:]
    until, since = max(float(elapsed.max(initial=0.0)), 0.01), min(float(elapsed.min(initial=0.0)), 0.0)
    return fly_rows(rows, medium, until, since, STEP_S).coarsely_at(elapsed)


def usual_launch(arc: Floats, setting: Setting) -> Launch:
    """An arc of the tracker (contact point, velocity, time, lift) as a launch to start the fit from."""
    return Launch(arc[:3], arc[3:6], setting.ball.drag, float(arc[7]), float(arc[8]))
