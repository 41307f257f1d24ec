"""Balls flown again through the lesson's own air: the paths of kept swings, and how far any hit would carry."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.forces import LIFT_SIDE_PRIOR, LIFT_UP_PRIOR, air_factor
from balltrack.flight.path import Launch, Medium, Path, fly_to_ground
from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.review.numbered import Numbered
from balltrack.units import Floats

USUAL_CONTACT_M = 0.75  # height of a contact where none was measured: a belt-high pitch (common practice, no source)
POINTS = 80  # of a drawn path: straight pieces of a second's flight then miss the curve by less than 1 cm
ROUNDS = 6  # of Gauss-Newton: the last one moves no landing by a centimetre
# What a record says of the end of a flight is met so closely; drag and lift may lie so far from the usual.
MEET_M, MEET_S = 0.02, 0.005
DRAG_SD, LIFT_SD = 0.15, 0.2
FURTHEST = 2.0  # of these: drag stays above none
NUDGE = 1e-3  # of a coefficient, to see what it does


@dataclass(frozen=True, slots=True, eq=False)
class Flown:
    """One swing's flight from contact to the ground."""

    number: int
    swing: Swing
    places_m: Floats  # (POINTS, 3) the ball's centre, field frame, evenly in time


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """What hits of these speeds and launches would do, straight to centre field with usual spin, over level ground."""

    speed_mps: Floats  # (s,)
    launch_deg: Floats  # (l,)
    carry_m: Floats  # (l, s)
    over_fence_m: Floats | None  # (l, s) by how much the ball clears the fence in centre field; None without a fence


def medium_of(lesson: Lesson) -> Medium:
    """The lesson's air as its ball feels it. Wind is level."""
    factor = air_factor(lesson.air.density_kg_m3, lesson.ball.diameter_m, lesson.ball.mass_kg)
    return Medium(factor, np.array([*lesson.air.wind_mps, 0.0]))


def carry_chart(lesson: Lesson, speed_mps: Floats, launch_deg: Floats, contact_m: float | None = None) -> Chart:
    """Fly a grid of hits from over the plate's front edge.

    Parameters
    ----------
    lesson : Lesson
    speed_mps : (s,) array
        [m/s]
    launch_deg : (l,) array
        [°]
    contact_m : float, optional
        Height of the contact. [m] Without: `USUAL_CONTACT_M`.
    """
    launch_rad, speed = np.meshgrid(np.radians(launch_deg), speed_mps, indexing="ij")
    velocity = np.stack([np.zeros_like(speed), speed * np.cos(launch_rad), speed * np.sin(launch_rad)], axis=-1)
    start_m = np.array([0.0, PLATE_DEPTH_M, USUAL_CONTACT_M if contact_m is None else contact_m])
    velocity = velocity.reshape(-1, 3)
    launch = Launch(np.broadcast_to(start_m, velocity.shape), velocity, lesson.ball.drag, LIFT_UP_PRIOR.mean)
    radius_m = lesson.ball.diameter_m / 2
    path = fly_to_ground(launch, medium_of(lesson), radius_m)
    spots = path.at(path.descent_s(radius_m)[:, None])[:, 0]
    carry_m = np.hypot(spots[:, 0], spots[:, 1]).reshape(speed.shape)
    if lesson.fence is None:
        return Chart(speed_mps, launch_deg, carry_m, None)
    over_m = _height_at(path, float(lesson.fence.distance_m(0.0))) - radius_m - lesson.fence.height_m
    return Chart(speed_mps, launch_deg, carry_m, over_m.reshape(speed.shape))


def _height_at(path: Path, distance_m: float) -> Floats:
    """Height at a distance from the plate's tip; below ground for a ball that comes down before. [(b,) m]

    Straight between knots, which is 8 mm off at most (g dt² / 8 with steps of 0.08 s).
    """
    along_m = np.hypot(path.position_m[..., 0], path.position_m[..., 1])
    pairs = zip(along_m, path.position_m[..., 2], strict=True)
    return np.array([np.interp(distance_m, along, height) for along, height in pairs])


def fly_again(lesson: Lesson, swings: Sequence[Numbered]) -> tuple[Flown, ...]:
    """The flights behind kept swings, from contact to the ground.

    A record keeps how the ball left the bat and where and when it came down, not its drag and lift. These are found
    again: those that meet landing spot and time in the air; where these tell little (a ground ball), the usual ones.
    Swings without a contact or a landing spot have no flight.
    """
    usable = [each for each in swings if None not in (each.swing.contact_m, each.swing.landing_m, each.swing.hang_s)]
    if not usable:
        return ()
    radius_m = lesson.ball.diameter_m / 2
    usual = np.array([lesson.ball.drag, LIFT_UP_PRIOR.mean, LIFT_SIDE_PRIOR.mean])
    spread = np.array([DRAG_SD, LIFT_SD, LIFT_SD])
    medium = medium_of(lesson)
    start = np.array([each.swing.contact_m for each in usable])
    velocity = np.array([_velocity_mps(each.swing) for each in usable])
    ends = np.array([[*(each.swing.landing_m or ()), each.swing.hang_s] for each in usable])

    def fly(coefficients: Floats) -> tuple[Path, Floats]:
        path = fly_to_ground(Launch(start, velocity, *coefficients.T), medium, radius_m)
        hang_s = path.descent_s(radius_m)
        return path, np.column_stack([path.at(hang_s[:, None])[:, 0, :2], hang_s])

    coefficients = np.tile(usual, (len(usable), 1))
    weight = 1 / np.array([MEET_M, MEET_M, MEET_S])
    for _ in range(ROUNDS):
        reached = fly(coefficients)[1]
        nudged = [(fly(coefficients + NUDGE * unit)[1] - reached) / NUDGE for unit in np.eye(3)]
        slope = np.stack(nudged, axis=-1) * weight[:, None]  # (b, 3 ends, 3 coefficients)
        off = (ends - reached) * weight
        normal = np.swapaxes(slope, 1, 2) @ slope + np.diag(spread**-2.0)
        pull = np.einsum("bec,be->bc", slope, off) + (usual - coefficients) * spread**-2.0
        coefficients = coefficients + np.linalg.solve(normal, pull[..., None])[..., 0]
        # No ball flies on beyond these: a record whose end does not go with its start is drawn as near as air allows.
        coefficients = np.clip(coefficients, usual - FURTHEST * spread, usual + FURTHEST * spread)
    path, reached = fly(coefficients)
    places = path.at(np.linspace(0.0, 1.0, POINTS) * reached[:, 2:])
    return tuple(Flown(each.number, each.swing, places[i]) for i, each in enumerate(usable))


def _velocity_mps(swing: Swing) -> tuple[float, float, float]:
    speed_mps = swing.exit_speed_mps or 0.0
    launch_rad, spray_rad = radians(swing.launch_deg or 0.0), radians(swing.spray_deg or 0.0)
    level_mps = speed_mps * cos(launch_rad)
    return level_mps * sin(spray_rad), level_mps * cos(spray_rad), speed_mps * sin(launch_rad)
