"""What acts on a ball in the air: gravity, quadratic drag, Magnus lift.

The spin axis is taken as fixed in space: the torque that the air puts on a spinning ball acts along its axis and
only slows it. The slowing is small: its time constant is about 30 s at 100 mph (Nathan's 2016 fit), so a
four-second flight keeps more than 85 % of its spin, and what is tracked lasts under a second.

What does change is the ball's speed v. At a given spin the lift coefficient follows S = radius * spin / v, and near
S = 0.2 all three published laws below rise about as the square root of S, so that CL ~ v^-1/2. `drag_and_lift`
therefore carries the lift coefficient at launch and lets it grow as the ball slows.
"""

from dataclasses import dataclass

import numpy as np

from balltrack.flight.motion import air, axes
from balltrack.units import Floats


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known before the flight is seen: a mean and one standard deviation."""

    mean: float
    sd: float


# Lift coefficients of batted balls. A batted ball spins at 0 to 3000 rpm, mostly backward when hit in the air and
# forward when topped (common practice, no source). For a 12-inch ball at 35 m/s Nathan's law gives CL = 0.16 at
# 1000 rpm and 0.25 at 2000 rpm backspin. The mean is that of a light backspin, two sd reach 2000 rpm either way.
LIFT_UP_PRIOR = Prior(0.10, 0.12)
LIFT_SIDE_PRIOR = Prior(0.0, 0.10)


@dataclass(frozen=True, slots=True)
class Spin:
    """What is known of a ball's lift coefficients before it is seen."""

    up: Prior
    side: Prior


BATTED = Spin(LIFT_UP_PRIOR, LIFT_SIDE_PRIOR)
# A pitch may spin either way: a rising or dropping ball, a curve, a lob that hardly turns. A hard baseball has about
# 1800 rpm at 38 m/s (common practice, no source), by Nathan's law CL = 0.2; a 12-inch lob of 12 m/s has 0.24 with only
# 600 rpm. It is thrown to spin upright more than aslant.
PITCHED = Spin(Prior(0.0, 0.20), Prior(0.0, 0.12))


def air_factor(density_kg_m3: float, diameter_m: float, mass_kg: float) -> float:
    """K = rho A / 2m, by which a coefficient and a squared speed become an acceleration. [1/m]"""
    return density_kg_m3 * np.pi * diameter_m**2 / 4 / (2 * mass_kg)


def spin_parameter(spin_radps: Floats, radius_m: float, speed_mps: Floats) -> Floats:
    """S = radius * spin / speed, of any shape that broadcasts. [1]"""
    return np.asarray(radius_m * spin_radps / speed_mps)


def lift_sawicki(s: Floats) -> Floats:
    """CL(S) of Sawicki, Hubbard & Stronge, Am. J. Phys. 71 (2003) 1152: two straight lines, meeting at S = 0.1."""
    return np.where(s <= 0.1, 1.5 * s, 0.09 + 0.6 * s)


def lift_cross(s: Floats) -> Floats:
    """CL(S) of Cross: 1 / (2.32 + 0.4 / S), written so that S = 0 gives 0."""
    return np.asarray(s / (2.32 * s + 0.4))


def lift_nathan(s: Floats) -> Floats:
    """CL(S) of Nathan's 2016 fit: 1.12 S / (0.583 + 2.333 S)."""
    return np.asarray(1.12 * s / (0.583 + 2.333 * s))


def lift_directions(velocity_mps: Floats) -> tuple[Floats, Floats]:
    """Unit vectors along which lift acts: sideways (horizontal, toward right field for a ball hit to centre) and up.

    Parameters
    ----------
    velocity_mps : (..., 3) array
        Field frame. [m/s] A vertical velocity has no side; +x is taken.

    Returns
    -------
    side, up : (..., 3) arrays
        Both perpendicular to the velocity and to each other.
    """
    one, none = np.ones(velocity_mps.shape[:-1]), np.zeros(velocity_mps.shape[:-1])
    return lift_axis(velocity_mps, one, none), -lift_axis(velocity_mps, none, one)


def lift_axis(velocity_mps: Floats, lift_up: Floats, lift_side: Floats) -> Floats:
    """The vector along the spin axis, lift coefficient long, that lifts a ball of this velocity by up and side.

    Parameters
    ----------
    velocity_mps : (..., 3) array
        At launch. [m/s]
    lift_up, lift_side : (...) arrays
        Lift coefficients: positive is backspin, and toward right field.

    Returns
    -------
    (..., 3) array
        C, with C x v / |v| = lift_up * up + lift_side * side.
    """
    shape = velocity_mps.shape[:-1]
    lifts = (np.broadcast_to(lift, shape).ravel() for lift in (lift_up, lift_side))
    return axes(_rows(velocity_mps), *lifts).reshape(velocity_mps.shape)


def drag_and_lift(
    velocity_mps: Floats, air_factor_per_m: Floats | float, drag: Floats, axis: Floats, launch_speed_mps: Floats
) -> Floats:
    """Acceleration by the air alone.

    a = -K Cd |v| v + K sqrt(v0 / |v|) |v| C x v, with C from `lift_axis`.

    Parameters
    ----------
    velocity_mps : (..., 3) array
        Relative to the air. [m/s]
    air_factor_per_m : float or (...) array
        K of `air_factor`. [1/m]
    drag : (...) array
        Drag coefficient.
    axis : (..., 3) array
        From `lift_axis`.
    launch_speed_mps : (...) array
        v0, the speed for which ``axis`` holds. [m/s]

    Returns
    -------
    (..., 3) array
        [m/s²]
    """
    shape = np.broadcast_shapes(velocity_mps.shape[:-1], axis.shape[:-1])
    vectors = (_rows(np.broadcast_to(each, (*shape, 3))) for each in (velocity_mps, axis))
    numbers = (np.broadcast_to(each, shape).ravel() for each in (air_factor_per_m, drag, launch_speed_mps))
    return air(*vectors, *(each.astype(np.float64, copy=False) for each in numbers)).reshape(*shape, 3)


def _rows(vectors: Floats) -> Floats:
    """(m, 3) of (..., 3)."""
    return np.ascontiguousarray(vectors, dtype=np.float64).reshape(-1, 3)
