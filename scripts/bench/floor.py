"""The error that remains where the ball's true pixels are known but for noise: what no tracker can better."""

from dataclasses import dataclass, replace

import numpy as np

from balltrack.contact import HEARD_SD_S, SEEN_SD_S, Cue
from balltrack.errors import MeasureError
from balltrack.flight.evidence import ContactPrior
from balltrack.flight.fit import fit_flight
from balltrack.flight.landing import land
from balltrack.flight.path import Launch
from balltrack.lesson import tee_base_m
from balltrack.measure import Setup
from balltrack.records.describe import Label, measured, refuse_vague
from balltrack.track.ball import BallTrack
from balltrack.track.follow import SMALLEST_PX
from balltrack.track.search import contact_prior
from balltrack.units import Floats
from bench.quantity import errors, nothing, stated_sds, true_values, values
from bench.truth import TruthSwing

CENTRE_SD_PX, DIAMETER_SD_PX = 0.5, 0.5  # the noise that the targets were set for
BAT_CARRY_PX = 0.3  # a ball leaves the tee's place a little after the bat has it


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """A fit to the true pixels."""

    error: Floats  # (7,) NaN where there is no fit
    sd: Floats  # (7,)
    reason: str  # why there are no numbers; empty where there are


def floor(truth: TruthSwing, setup: Setup, heard: bool, rng: np.random.Generator) -> Floor:
    """Fit a hit's true pixels with noise, through the same solved camera and with the same prior as measuring does.

    Parameters
    ----------
    truth : TruthSwing
        A hit.
    setup : Setup
    heard : bool
        Whether the clip has a sound to date the contact by.
    rng : np.random.Generator
        For the noise.
    """
    contact, start = _contact(truth, setup, heard, rng), _launch(truth, setup)
    label = Label("floor#1", truth.clip, "floor", "", truth.contact_s)
    try:
        fit = fit_flight(_track(truth, rng), contact, setup.setting, start)
        refuse_vague(fit)
    except MeasureError as error:
        return Floor(nothing(), nothing(), str(error))
    swing = measured(label, fit, land(fit, setup.setting), setup.lesson.player.bats)
    return Floor(errors(values(swing), true_values(truth)), stated_sds(swing), "")


def _track(truth: TruthSwing, rng: np.random.Generator) -> BallTrack:
    """Every frame in which a ball large enough to be followed flies clear."""
    rows = truth.rows
    kept = rows.clear_flight & (rows.diameter_px >= SMALLEST_PX)
    count = int(kept.sum())
    return BallTrack(
        time_s=rows.time_s[kept],
        centre_px=rows.centre_px[kept] + rng.normal(0, CENTRE_SD_PX, (count, 2)),
        centre_sd_px=np.full((count, 2), CENTRE_SD_PX),
        diameter_px=np.maximum(rows.diameter_px[kept] + rng.normal(0, DIAMETER_SD_PX, count), DIAMETER_SD_PX),
        diameter_sd_px=np.full(count, DIAMETER_SD_PX),
        used=np.ones(count, dtype=np.bool_),
        source=("truth",) * count,
        reason=("",) * count,
    )


def _contact(truth: TruthSwing, setup: Setup, heard: bool, rng: np.random.Generator) -> ContactPrior:
    """What measuring knows of the contact: a crack heard or a stir seen, the tee's place and the ball on it."""
    sd_s = HEARD_SD_S if heard else SEEN_SD_S
    cue = Cue(truth.contact_s + float(rng.normal(0, sd_s)), sd_s, heard, 0.0, 1.0)
    clip = next(clip for clip in setup.lesson.clips if clip.name == truth.clip)
    prior = contact_prior(cue, tee_base_m(clip, setup.lesson, setup.solved.camera))
    contact = ContactPrior(cue.time_s, cue.sd_s, prior.mean[:3], prior.sd[:3])
    resting = np.flatnonzero(truth.rows.phase == "rest")
    if not len(resting):
        return contact
    last = resting[-1]
    return replace(
        contact,
        pixel_px=truth.rows.centre_px[last] + rng.normal(0, CENTRE_SD_PX, 2),
        pixel_sd_px=float(np.hypot(CENTRE_SD_PX, BAT_CARRY_PX)),
        diameter_px=float(truth.rows.diameter_px[last] + rng.normal(0, DIAMETER_SD_PX)),
        diameter_sd_px=DIAMETER_SD_PX,
    )


def _launch(truth: TruthSwing, setup: Setup) -> Launch:
    """The truth to begin from, so that no search goes astray; drag and lift must still be found."""
    place, velocity = (np.array(truth.fields[name]) for name in ("contact_m", "velocity_mps"))
    return Launch(place, velocity, setup.setting.ball.drag, 0.0, 0.0)
