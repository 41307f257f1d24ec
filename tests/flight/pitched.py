"""Pitches made without the package: scipy's DOP853 flies them from the hand to the bat, OpenCV projects them."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.field import Ball
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.forces import PITCHED
from balltrack.track.ball import BallTrack
from balltrack.units import M_PER_FT, Floats
from tests.flight.simulated import (
    BALL_DIAMETER_M,
    BALL_MASS_KG,
    BOXES,
    DENSITY,
    HEIGHT,
    PLATE,
    SET_UPS,
    WIDTH,
    Filming,
    Position,
    Truth,
    camera_covariance,
    film,
    fly_truth,
    true_camera,
)

HAND_M = 15.24 - 0.6  # 50 ft from the plate's tip to the pitcher's plate, less a step
PLATE_FRONT_M = 0.4318  # 17 in, Official Baseball Rules 2.02
HIDDEN_S = 0.04  # before contact bat and hands are in the way
MET_SD_M, MET_SD_S = 0.04, 0.003  # of the contact as a hit's flight tells it


@dataclass(frozen=True)
class TruePitch:
    """What a pitch truly was. Times of the clip."""

    first_speed_mps: float  # when it was first seen
    apex_m: float
    descent_deg: float  # at the plate's front edge
    plate_m: tuple[float, float]  # x, z there
    plate_s: float
    early_s: float  # from contact to then


@dataclass(frozen=True, eq=False)
class Pitched:
    """What the fit is given, and what it should find."""

    truth: TruePitch
    track: BallTrack
    end: ContactPrior
    setting: Setting
    velocity_mps: Floats  # (3,) at contact
    contact_m: Floats


def arc_velocity(apex_m: float, height_m: float, reach_m: float) -> Floats:
    """Of a lob without drag from a height over a distance to the same height."""
    up = np.sqrt(2 * 9.80665 * (apex_m - height_m))
    return np.array([0.0, -reach_m / (2 * up / 9.80665), up])


def slow_pitch(rng: np.random.Generator) -> Floats:
    """Velocity at the hand of a lob of 6.5 to 11.5 ft, a little harder than without drag."""
    lob = arc_velocity(rng.uniform(6.5, 11.5) * M_PER_FT, 0.8, HAND_M - 0.6)
    return np.asarray(lob * np.array([1.0, 1.06, 1.01]))


def fast_pitch(rng: np.random.Generator) -> Floats:
    """Velocity at the hand of a ball of about 55 to 65 mph, nearly level."""
    speed = rng.uniform(25.0, 29.0)
    return np.array([0.0, -speed, rng.uniform(1.6, 2.2)])


def pitch(rng: np.random.Generator, place: str, velocity: Floats, fps: float = 60.0, seen_s: float = 9.0) -> Pitched:
    """Film a pitch that is let go with a velocity at 1 s of the clip, from as long before contact as ``seen_s``."""
    release = np.array([rng.normal(0.25, 0.1), HAND_M, 0.8])
    met_y = float(np.clip(rng.normal(0.5, 0.2), 0.1, 1.0))
    sideways = (rng.normal(0, 0.1) - release[0]) / (HAND_M - met_y) * -velocity[1]
    _, path = fly_truth(rng, velocity + np.array([sideways, 0.0, 0.0]), release, 1.0)
    met = float(brentq(lambda t: path(t)[1] - met_y, 0.05, 2.2))
    camera = true_camera(SET_UPS[place])
    covariance = camera_covariance(camera, 0.003, PLATE + BOXES)
    believed = Camera(rng.multivariate_normal(camera, covariance), covariance, (WIDTH, HEIGHT))
    start = max(0.0, met - seen_s)
    track = _filmed(rng, path, (start, met), camera, believed, Filming(SET_UPS[place], fps))
    end = ContactPrior(
        1.0 + met + rng.normal(0, MET_SD_S), MET_SD_S, path(met) + rng.normal(0, MET_SD_M, 3), np.full(3, MET_SD_M)
    )
    ball = Ball(BALL_DIAMETER_M, diameter_sd_m=0.0006, mass_kg=BALL_MASS_KG, mass_sd_kg=0.004, drag=0.32, drag_sd=0.04)
    setting = Setting(believed, ball, Air(DENSITY, 20.0, (0.0, 0.0)), PITCHED)
    truth = _truth(path, met, float(track.time_s[0]) - 1.0)
    return Pitched(truth, track, end, setting, _velocity(path, met), path(met))


def _filmed(
    rng: np.random.Generator,
    path: Position,
    span_s: tuple[float, float],
    camera: Floats,
    believed: Camera,
    how: Filming,
) -> BallTrack:
    start, met = span_s
    shown = replace(how, hidden_s=start + 1e-6, longest_s=met - HIDDEN_S)
    return film(rng, Truth(path(0.0), path(0.0), 1.0, 0.0, 9.0, np.zeros(2)), path, camera, believed, shown)


def _velocity(path: Position, time_s: float) -> Floats:
    return np.asarray((path(time_s + 1e-4) - path(time_s - 1e-4)) / 2e-4)


def _truth(path: Position, met: float, first: float) -> TruePitch:
    over = float(brentq(lambda t: path(t)[1] - PLATE_FRONT_M, met - 0.4, met + 0.4))
    top = minimize_scalar(lambda t: -path(t)[2], bounds=(0.0, over), method="bounded")
    x, y, z = _velocity(path, over)
    return TruePitch(
        first_speed_mps=float(np.linalg.norm(_velocity(path, first))),
        apex_m=float(path(float(top.x))[2]),
        descent_deg=float(np.degrees(np.arctan2(-z, np.hypot(x, y)))),
        plate_m=(float(path(over)[0]), float(path(over)[2])),
        plate_s=1.0 + over,
        early_s=over - met,
    )
