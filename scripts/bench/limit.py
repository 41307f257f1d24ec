"""The statistical limit of one hit: how surely it could be known from the frames in which it truly was to be seen."""

from dataclasses import dataclass, replace

import numpy as np

from balltrack.camera.model import Camera
from balltrack.contact import HEARD_SD_S, SEEN_SD_S, Cue
from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.limit import Filming, Limit, accuracy_limit
from balltrack.flight.path import Launch
from balltrack.lesson import tee_base_m
from balltrack.setup import Setup
from balltrack.track.follow import SMALLEST_PX
from balltrack.track.search import contact_prior
from balltrack.units import MPS_PER_MPH, Floats
from bench.quantity import CM_PER_M, nothing
from bench.truth import TrueCamera, TruthSwing

# How surely a ball's centre and diameter can be read off a frame, one sd: a quarter of a pixel for a sharp ball, half
# a pixel once it is drawn out over three diameters, since its light is then spread over four times the area and its
# ends are soft (judgement from rendered and filmed balls, no source).
SHARP_SD_PX, BLURRED_SD_PX, BLURRED = 0.25, 0.5, 3.0
BAT_CARRY_PX = 0.3  # a ball leaves the tee's place a little after the bat has it


@dataclass(frozen=True, slots=True, eq=False)
class SwingLimit:
    """One sd of each judged number, NaN where there is no limit."""

    unbiased: Floats  # (7,) if the diameters had no bias that all frames share
    allowing: Floats  # (7,) with the bias that measuring allows for
    frames: int


NO_LIMIT = SwingLimit(nothing(), nothing(), 0)


def row_sd_px(blur: Floats) -> Floats:
    """(n,) sd of the centre along each axis, and of the diameter, by streak in diameters. [px]"""
    return SHARP_SD_PX + (BLURRED_SD_PX - SHARP_SD_PX) * np.clip(blur / BLURRED, 0.0, 1.0)


def swing_limit(truth: TruthSwing, camera: TrueCamera, setup: Setup, heard: bool) -> SwingLimit:
    """The limit of a hit.

    Parameters
    ----------
    truth : TruthSwing
        A hit.
    camera : TrueCamera
        The phone as it was; how surely it is known is what the solved camera states.
    setup : Setup
    heard : bool
        Whether the clip has a sound to date the contact by.
    """
    solved = setup.solved.camera
    setting = replace(setup.setting, camera=Camera(camera.parameters, solved.covariance, solved.size_px))
    rows = truth.rows
    kept = rows.clear_flight & (rows.diameter_px >= SMALLEST_PX)
    sd_px = row_sd_px(rows.blur[kept])
    filming = Filming(rows.pts_s[kept] + 0.5 * camera.exposure_s, sd_px, sd_px)
    contact = _contact(truth, setup, heard)
    try:
        tight = accuracy_limit(_launch(truth, setting), contact, setting, filming, true_sizes=True)
        loose = accuracy_limit(_launch(truth, setting), contact, setting, filming)
    except FlightError:
        return NO_LIMIT
    return SwingLimit(_in_readers_units(tight), _in_readers_units(loose), tight.frames)


def _in_readers_units(limit: Limit) -> Floats:
    return np.array(
        [
            limit.exit_speed_sd_mps / MPS_PER_MPH,
            limit.launch_sd_deg,
            limit.spray_sd_deg,
            limit.contact_sd_m[1] * CM_PER_M,
            limit.contact_sd_m[2] * CM_PER_M,
            limit.carry_sd_m,
            limit.tail_sd_m,
        ]
    )


def _contact(truth: TruthSwing, setup: Setup, heard: bool) -> ContactPrior:
    """What measuring knows of the contact: a crack heard or a stir seen, the tee's place and the ball on it."""
    sd_s = HEARD_SD_S if heard else SEEN_SD_S
    cue = Cue(truth.contact_s, sd_s, heard, 0.0, 1.0)
    clip = next(clip for clip in setup.lesson.clips if clip.name == truth.clip)
    prior = contact_prior(cue, tee_base_m(clip, setup.lesson, setup.solved.camera))
    contact = ContactPrior(truth.contact_s, sd_s, prior.mean[:3], prior.sd[:3])
    resting = np.flatnonzero(truth.rows.phase == "rest")
    if not len(resting):
        return contact
    last = resting[-1]
    return replace(
        contact,
        pixel_px=truth.rows.centre_px[last],
        pixel_sd_px=float(np.hypot(SHARP_SD_PX, BAT_CARRY_PX)),
        diameter_px=float(truth.rows.diameter_px[last]),
        diameter_sd_px=SHARP_SD_PX,
    )


def _launch(truth: TruthSwing, setting: Setting) -> Launch:
    """The true launch; the package's usual drag bends it closely enough for the geometry."""
    place, velocity = (np.array(truth.fields[name]) for name in ("contact_m", "velocity_mps"))
    return Launch(place, velocity, setting.ball.drag, 0.0, 0.0)
