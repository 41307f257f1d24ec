"""How well a usual hit could be measured with the camera as the marks give it so far."""

from dataclasses import dataclass

import numpy as np

from balltrack.contact import CONTACT_M, HEARD_SD_S, Cue
from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.limit import Filming, accuracy_limit
from balltrack.flight.path import Launch
from balltrack.track.search import contact_prior
from balltrack.units import MPS_PER_MPH, Floats

SPEED_MPH, LAUNCH_DEG = 75.0, 15.0  # a line drive over the middle: common practice, no source
HIDDEN_FRAMES, SEEN_S = 2, 0.6  # the batter hides the first frames; what is seen later adds little
USUAL_FPS = 60.0  # where the file does not tell
LIKELY = 1.645  # of 100 swings 90 lie within so many sds


@dataclass(frozen=True, slots=True)
class Expected:
    """What this set-up would give: of 100 hits 90 within these. None where the hit is hardly in the picture."""

    words: str  # what kind of hit
    speed_mph: float | None
    launch_deg: float | None
    spray_deg: float | None


def expected_accuracy(setting: Setting, fps: float) -> tuple[Expected, Expected]:
    """The least uncertainty of any fit to a usual hit, by the camera's place and by how surely it is known.

    Off a tee whose foot is marked, and else. Half a pixel is taken for the ball's centre and for its diameter in each
    frame.
    """
    return (
        _expected("pitched", None, setting, fps),
        _expected("off a tee", CONTACT_M, setting, fps),
    )


def _expected(words: str, tee_base_m: Floats | None, setting: Setting, fps: float) -> Expected:
    prior = contact_prior(Cue(0.0, HEARD_SD_S, True, 0.0, 1.0), tee_base_m)
    rise = np.radians(LAUNCH_DEG)
    velocity = SPEED_MPH * MPS_PER_MPH * np.array([0.0, np.cos(rise), np.sin(rise)])
    launch = Launch(prior.mean[:3], velocity, setting.ball.drag)
    frame_s = 1.0 / (fps or USUAL_FPS)
    filming = Filming(np.arange(HIDDEN_FRAMES * frame_s, SEEN_S, frame_s))
    try:
        limit = accuracy_limit(launch, ContactPrior(0.0, HEARD_SD_S, prior.mean[:3], prior.sd[:3]), setting, filming)
    except FlightError:
        return Expected(words, None, None, None)
    return Expected(
        words,
        LIKELY * limit.exit_speed_sd_mps / MPS_PER_MPH,
        LIKELY * limit.launch_sd_deg,
        LIKELY * limit.spray_sd_deg,
    )


def hit_words() -> str:
    """What hit is meant, and how to read the numbers."""
    return (
        f"For a hit of {SPEED_MPH:.0f} mph, {LAUNCH_DEG:.0f}° up, over the middle, each frame's ball found to half a "
        "pixel: 90 of 100 such hits would lie within; no measuring could leave less open. Tossed is as pitched; off a "
        "tee asks that the tee's foot is marked."
    )
