"""The pitch of one swing: found among what moved before it, followed, fitted; and what became of it past the bat."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from balltrack.detect.motion import Movers
from balltrack.errors import FlightError
from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import FlightFit
from balltrack.flight.forces import PITCHED
from balltrack.flight.guesses import usual_flight, usual_launch
from balltrack.flight.pitch import PitchNumbers, fit_pitch, pitch_numbers
from balltrack.track.arcs import Prior, View
from balltrack.track.pitch_follow import follow_pitch
from balltrack.track.pitch_link import Incoming, link_pitch
from balltrack.units import Floats
from balltrack.video.frames import Frame

BEFORE_S = 1.8  # of its end a pitch is looked for; the slowest is not longer in the air
APART_S = 1 / 35  # between the frames among whose movers it is sought
# Velocity at the plate, of a pitch and of a toss from in front or beside, and one sd (common practice, no source).
PITCH_MPS, PITCH_SD_MPS = np.array([0.0, -20.0, -3.0]), np.array([2.5, 10.0, 4.0])
TOSS_MPS, TOSS_SD_MPS = np.array([0.0, -5.0, -2.0]), np.array([4.0, 4.0, 2.5])
ANY_MPS, ANY_SD_MPS = np.array([0.0, -12.0, -2.5]), np.array([4.0, 10.0, 4.0])
# Beside what the hit's flight says of the contact: the bat takes the ball along for its first centimetre.
MET_SD_M, MET_SD_S = 0.02, 0.002
# A pitch that nobody hit is known to cross the plane of the plate's front edge; where, and when, only roughly.
CROSSING_M = np.array([0.0, PLATE_DEPTH_M, 0.8])
CROSSING_SD_M = np.array([0.4, 0.01, 0.45])
PASSED_SD_S = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class PitchScene:
    """What there is to look for a pitch in."""

    frames: Iterable[Frame]  # in order of time, from as early as there are any; gone through several times
    movers: Movers
    setting: Setting  # with the spin of a batted ball
    delivery: str | None  # toss | live; None where lesson.toml does not say
    hand_m: float | None  # in front of the plate's tip the ball is let go; None where not known


@dataclass(frozen=True, slots=True, eq=False)
class Pitch:
    """A pitch that was seen."""

    fit: FlightFit
    numbers: PitchNumbers


def met_at(fit: FlightFit) -> ContactPrior:
    """What the flight of a hit says of the place and time at which its pitch ended."""
    return ContactPrior(
        fit.contact_s,
        float(np.hypot(fit.contact_time_sd_s, MET_SD_S)),
        fit.contact_m,
        np.hypot(fit.contact_sd_m, MET_SD_M),
    )


def passed_at(time_s: float, sd_s: float) -> ContactPrior:
    """What is known of the end of a pitch that nobody hit: it crosses the plane of the plate's front edge.

    ``time_s`` is when something stirred or sounded there, to ``sd_s``: a swing too early or late, a mitt behind.
    """
    return ContactPrior(time_s, float(np.hypot(sd_s, PASSED_SD_S)), CROSSING_M, CROSSING_SD_M)


def see_pitch(scene: PitchScene, end: ContactPrior, exposure_s: float | None = None) -> Pitch | None:
    """Look for the pitch that ended so; None where none is seen.

    Parameters
    ----------
    scene : PitchScene
    end : ContactPrior
        From `met_at` or `passed_at`.
    exposure_s : float, optional
        How long the shutter was open, where that is known. [s]
    """
    setting = replace(scene.setting, spin=PITCHED)
    view = View(setting.camera, setting.ball.diameter_m, usual_flight(setting, BEFORE_S))
    ball = _linked(scene, view, _prior(end, scene.delivery))
    if ball is None:
        return None
    track = follow_pitch(scene.frames, scene.movers.background, ball, view, exposure_s)
    try:
        fit = fit_pitch(track, end, setting, usual_launch(ball.arc, setting))
    except FlightError:
        return None
    return Pitch(fit, pitch_numbers(fit, track, end, setting, scene.hand_m))


def _linked(scene: PitchScene, view: View, prior: Prior) -> Incoming | None:
    sought, last_s = [], -np.inf
    for frame in scene.frames:
        if frame.time_s - last_s >= APART_S:
            sought.append(scene.movers.of(frame))
            last_s = frame.time_s
    return link_pitch(sought, view, prior)


def _prior(end: ContactPrior, delivery: str | None) -> Prior:
    velocity, sd = {"live": (PITCH_MPS, PITCH_SD_MPS), "toss": (TOSS_MPS, TOSS_SD_MPS)}.get(
        delivery or "", (ANY_MPS, ANY_SD_MPS)
    )
    mean: Floats = np.array([*end.position_m, *velocity, end.time_s, PITCHED.up.mean, PITCHED.side.mean])
    spread: Floats = np.array([*end.position_sd_m, *sd, end.time_sd_s, PITCHED.up.sd, PITCHED.side.sd])
    return Prior(mean, spread)
