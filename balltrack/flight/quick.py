"""A fast path for many guessed flights: drag and gravity only, good to a few centimetres over two seconds.

Used to look for the ball, never to report it.
"""

import numpy as np

from balltrack.units import Floats

GRAVITY_MPS2 = 9.80665
STEP_S = 0.08
BEFORE_S = 0.4  # guesses are also followed back before contact, to tell a pitch from a hit


def quick_points(launches: Floats, elapsed_s: Floats, drag_per_m: float) -> Floats:
    """Fly many launches with constant drag and no lift.

    Parameters
    ----------
    launches : (s, 6) array
        Position [m] and velocity [m/s] at contact.
    elapsed_s : (s, m) array
        Time since contact; negative runs the flight backwards as far as 0.4 s. [s]
    drag_per_m : float
        Deceleration over speed squared, rho Cd A / 2m. [1/m]

    Returns
    -------
    (s, m, 3) array
        [m]
    """
    count = max(int(np.ceil(float(np.max(elapsed_s, initial=0.0)) / STEP_S)), 1) + 1
    behind = int(np.ceil(BEFORE_S / STEP_S))
    forward = _nodes(launches, STEP_S, count, drag_per_m)
    backward = _nodes(launches, -STEP_S, behind, drag_per_m)
    nodes = np.concatenate([backward[:0:-1], forward])  # (k, s, 6)
    place = np.clip(elapsed_s / STEP_S + behind, 0.0, len(nodes) - 1.000001)
    index = place.astype(np.intp)
    part = (place - index)[..., None]
    rows = np.arange(len(launches))[:, None]
    low, high = nodes[index, rows], nodes[index + 1, rows]
    # Cubic Hermite interpolation between nodes: exact for constant acceleration.
    h00, h10 = 2 * part**3 - 3 * part**2 + 1, part**3 - 2 * part**2 + part
    h01, h11 = -2 * part**3 + 3 * part**2, part**3 - part**2
    return np.asarray(
        h00 * low[..., :3] + h10 * STEP_S * low[..., 3:] + h01 * high[..., :3] + h11 * STEP_S * high[..., 3:]
    )


def _nodes(launches: Floats, step_s: float, count: int, drag_per_m: float) -> Floats:
    state = np.asarray(launches, dtype=np.float64)
    nodes = [state]
    for _ in range(count):
        k1 = _rate(state, drag_per_m)
        k2 = _rate(state + 0.5 * step_s * k1, drag_per_m)
        k3 = _rate(state + 0.5 * step_s * k2, drag_per_m)
        k4 = _rate(state + step_s * k3, drag_per_m)
        state = state + step_s / 6.0 * (k1 + 2 * k2 + 2 * k3 + k4)
        nodes.append(state)
    return np.stack(nodes)


def _rate(state: Floats, drag_per_m: float) -> Floats:
    velocity = state[:, 3:]
    speed = np.linalg.norm(velocity, axis=1, keepdims=True)
    pull = -drag_per_m * speed * velocity
    pull[:, 2] -= GRAVITY_MPS2
    return np.concatenate([velocity, pull], axis=1)
