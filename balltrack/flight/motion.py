"""How a ball moves through the air, number by number: compiled, for a search flies many thousands of guesses.

Arrays are contiguous, of 64-bit numbers. `forces` and `path` say what it all means and are what others call.

A kernel calls and uses only what stands in its own file: what is kept of it from run to run is compiled anew when
this file changes, and only then.
"""

import numpy as np

from balltrack.compiled import compiled
from balltrack.units import Floats

GRAVITY_MPS2 = 9.80665  # standard gravity, 3rd CGPM, 1901
SLOWEST_MPS = 1e-9  # guards a division: a ball at rest in the air feels no force
# d ln CL / d ln S at S = 0.2: Nathan 0.56, Cross 0.46 (a batted softball with 1500 rpm at 38 m/s has S = 0.20).
LIFT_EXPONENT = 0.5

Three = tuple[float, float, float]


@compiled
def _axis(u: float, v: float, w: float, lift_up: float, lift_side: float) -> Three:
    """C with C x (u, v, w) / speed = lift_up * up + lift_side * side: see `forces.lift_axis`."""
    level, speed = np.hypot(u, v), max(np.sqrt(u * u + v * v + w * w), SLOWEST_MPS)
    a, b = (1.0, 0.0) if level < SLOWEST_MPS else (v / level, -u / level)  # side: (a, b, 0)
    # up = side x velocity / speed
    return (
        lift_up * a - lift_side * b * w / speed,
        lift_up * b + lift_side * a * w / speed,
        -lift_side * (a * v - b * u) / speed,
    )


@compiled
def _air(velocity: Three, axis: Three, factor_per_m: float, drag: float, launch_mps: float) -> Three:
    """a = -K Cd |v| v + K sqrt(v0 / |v|) |v| C x v: see `forces.drag_and_lift`."""
    u, v, w = velocity
    a, b, c = axis
    speed = np.sqrt(u * u + v * v + w * w)
    dragging = factor_per_m * speed * drag
    lifting = factor_per_m * speed * (launch_mps / max(speed, SLOWEST_MPS)) ** LIFT_EXPONENT
    return (
        lifting * (b * w - c * v) - dragging * u,
        lifting * (c * u - a * w) - dragging * v,
        lifting * (a * v - b * u) - dragging * w,
    )


@compiled
def axes(velocity_mps: Floats, lift_up: Floats, lift_side: Floats) -> Floats:
    """(m, 3) of (m, 3), (m,) and (m,)."""
    out = np.empty(velocity_mps.shape)
    for k in range(len(out)):
        u, v, w = velocity_mps[k, 0], velocity_mps[k, 1], velocity_mps[k, 2]
        out[k, 0], out[k, 1], out[k, 2] = _axis(u, v, w, lift_up[k], lift_side[k])
    return out


@compiled
def air(velocity_mps: Floats, axis: Floats, factor_per_m: Floats, drag: Floats, launch_mps: Floats) -> Floats:
    """(m, 3) [m/s²] of (m, 3) relative to the air, (m, 3), (m,), (m,) and (m,)."""
    out = np.empty(velocity_mps.shape)
    for k in range(len(out)):
        velocity = (velocity_mps[k, 0], velocity_mps[k, 1], velocity_mps[k, 2])
        about = (axis[k, 0], axis[k, 1], axis[k, 2])
        out[k, 0], out[k, 1], out[k, 2] = _air(velocity, about, factor_per_m[k], drag[k], launch_mps[k])
    return out


@compiled
def _pull(velocity: Three, wind: Three, axis: Three, factor_per_m: float, drag: float, launch_mps: float) -> Three:
    """Acceleration by air and gravity. [m/s²]"""
    through = (velocity[0] - wind[0], velocity[1] - wind[1], velocity[2] - wind[2])
    a, b, c = _air(through, axis, factor_per_m, drag, launch_mps)
    return a, b, c - GRAVITY_MPS2


@compiled
def _ahead(velocity: Three, pull: Three, step_s: float) -> Three:
    return velocity[0] + step_s * pull[0], velocity[1] + step_s * pull[1], velocity[2] + step_s * pull[2]


@compiled
def march(
    launches: Floats, wind_mps: Floats, factor_per_m: float, step_s: float, back: int, ahead: int, ground_m: float
) -> tuple[Floats, Floats, Floats, int]:
    """Fly balls from knot to knot, so many steps back and ahead (classical Runge-Kutta, order 4).

    Parameters
    ----------
    launches : (b, 9) array
        Position [m], velocity [m/s], drag, lift up, lift sideways.
    wind_mps : (b, 3) array
    factor_per_m, step_s, back, ahead : numbers
    ground_m : float
        No further once every ball is below it and falling.

    Returns
    -------
    position [m], velocity [m/s], acceleration [m/s²] : (b, back + 1 + ahead, 3) arrays
    int
        How many of the knots were reached.
    """
    count, reached = len(launches), back + 1
    place = np.empty((count, back + 1 + ahead, 3))
    speed, pulled = np.empty(place.shape), np.empty(place.shape)
    axis = np.empty((count, 4))
    for k in range(count):
        here = launches[k]
        about = _axis(here[3], here[4], here[5], here[7], here[8])
        through = (here[3] - wind_mps[k, 0], here[4] - wind_mps[k, 1], here[5] - wind_mps[k, 2])
        launch_mps = np.sqrt(through[0] ** 2 + through[1] ** 2 + through[2] ** 2)
        a, b, c = _air(through, about, factor_per_m, here[6], launch_mps)
        axis[k, 0], axis[k, 1], axis[k, 2], axis[k, 3] = about[0], about[1], about[2], launch_mps
        for j in range(3):
            place[k, back, j], speed[k, back, j] = here[j], here[3 + j]
        pulled[k, back, 0], pulled[k, back, 1], pulled[k, back, 2] = a, b, c - GRAVITY_MPS2
    for step in range(back + ahead):
        is_back = step < back
        start = back - step if is_back else step
        end, h = (start - 1, -step_s) if is_back else (start + 1, step_s)
        down = not is_back
        for k in range(count):
            wind = (wind_mps[k, 0], wind_mps[k, 1], wind_mps[k, 2])
            about, drag, launch_mps = (axis[k, 0], axis[k, 1], axis[k, 2]), launches[k, 6], axis[k, 3]
            v1 = (speed[k, start, 0], speed[k, start, 1], speed[k, start, 2])
            a1 = (pulled[k, start, 0], pulled[k, start, 1], pulled[k, start, 2])
            v2 = _ahead(v1, a1, h / 2)
            a2 = _pull(v2, wind, about, factor_per_m, drag, launch_mps)
            v3 = _ahead(v1, a2, h / 2)
            a3 = _pull(v3, wind, about, factor_per_m, drag, launch_mps)
            v4 = _ahead(v1, a3, h)
            a4 = _pull(v4, wind, about, factor_per_m, drag, launch_mps)
            for j in range(3):
                place[k, end, j] = place[k, start, j] + h / 6 * (v1[j] + 2 * v2[j] + 2 * v3[j] + v4[j])
                speed[k, end, j] = v1[j] + h / 6 * (a1[j] + 2 * a2[j] + 2 * a3[j] + a4[j])
            after = (speed[k, end, 0], speed[k, end, 1], speed[k, end, 2])
            a5 = _pull(after, wind, about, factor_per_m, drag, launch_mps)
            pulled[k, end, 0], pulled[k, end, 1], pulled[k, end, 2] = a5
            down = down and place[k, end, 2] < ground_m and after[2] < 0
        if not is_back:
            reached = end + 1
            if down:
                break
    return place, speed, pulled, reached
