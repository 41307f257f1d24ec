"""A foul tip: the bat touches the ball a little, which goes on or pops up, slower, and spinning."""

import numpy as np

from .arrays import Floats

KEEPS = (0.75, 0.95)  # share of its speed that a grazed ball keeps
GRAZE_M = 0.072  # between the ball's and the barrel's middles: radii of 49 and 29 mm, less a brush


def graze(rng: np.random.Generator, into: Floats) -> tuple[Floats, Floats, float]:
    """Velocity and spin after a touch, and how far (signed, m) the barrel passes over (+) or under (-) the ball."""
    speed = float(np.linalg.norm(into))
    if speed < 0.1:  # from a tee it trickles or hops off
        turn, rise = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.2)
        slow = rng.uniform(1.5, 5.0)
        off = slow * np.array([np.cos(rise) * np.sin(turn), np.cos(rise) * np.cos(turn), np.sin(rise)])
        return off, rng.normal(0, 60, 3), -GRAZE_M
    kept = speed * float(rng.uniform(*KEEPS))
    way = into / speed
    if rng.random() < 0.6:  # on toward the catcher
        rise = float(rng.choice([-1, 1])) * float(rng.uniform(0.07, 0.22))
        bent = way + np.array([rng.normal(0, 0.06), 0.0, rise])
        above = -np.sign(rise)
    else:  # up and back
        turn, climb = float(rng.normal(0, 0.5)), float(rng.uniform(0.6, 1.3))
        bent = np.array([np.cos(climb) * np.sin(turn), -np.cos(climb) * np.cos(turn), np.sin(climb)])
        above = -1.0
    spin = np.array([above * rng.uniform(80, 250), rng.normal(0, 30), rng.normal(0, 40)])
    return kept * bent / np.linalg.norm(bent), spin, float(above) * GRAZE_M
