"""What became of a pitch that nobody drove: it flew on as it came, or the bat had touched it, or it was not seen."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from balltrack.detect.candidates import Candidates
from balltrack.flight.evidence import launch_of
from balltrack.flight.fit import FlightFit
from balltrack.flight.forces import PITCHED
from balltrack.flight.guesses import usual_flight
from balltrack.flight.path import fly
from balltrack.flight.pitch_seen import APART_S, Pitch, PitchScene
from balltrack.track.arcs import TIME, Prior, View
from balltrack.track.pitch_link import AFTER, Incoming, link_pitch
from balltrack.units import Floats

Fate = Literal["on", "turned", "unseen"]

SOUGHT_S = 0.5  # past the plate
CLEAR_OF_GROUND_M = 0.15
# A touch in front of the plate's edge has the ball pass that plane beside its path, and a little later.
BESIDE_SD_M, LATER_SD_S = np.array([0.12, 0.01, 0.15]), 0.02
TURNED_SHARE = 0.3  # of its speed by which a touched ball's velocity changes in each direction, one sd
# A ball has been turned where one that flew on leaves so much evidence unexplained (log likelihood ratio), its velocity
# has changed beyond doubt (chi-squared with 3 degrees of freedom, 1 in 10,000), and by more than fits of a few frames
# are off when the model of the air is.
LEAST_GAIN, LEAST_CHANGE_SQ, LEAST_TURN_DEG = 6.0, 21.1, 4.0
# A bat reaches a ball from so far ahead of the plate's tip to so far behind it (common practice, no source).
REACH_Y_M = (1.5, -0.4)
HEARD_SDS = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A pitch's state in the plane of the plate's front edge."""

    mean: Floats  # (9,) as an arc
    sd: Floats  # (9,)


def fate_of(pitch: Pitch, scene: PitchScene) -> Fate:
    """Look for the ball past the bat.

    Parameters
    ----------
    pitch : Pitch
        Fitted to its end in the plane of the plate's front edge: from `see_pitch` with `passed_at`.
    scene : PitchScene
        With frames past that time.
    """
    setting = replace(scene.setting, spin=PITCHED)
    view = View(setting.camera, setting.ball.diameter_m, usual_flight(setting))
    frames = _past(pitch, scene)
    way = _way(pitch.fit)
    on = link_pitch(frames, view, Prior(way.mean, way.sd), AFTER)
    touched = link_pitch(frames, view, _touched(way), AFTER)
    if touched is not None and _turned(touched, pitch.fit, on):
        return "turned"
    return "on" if on is not None else "unseen"


def in_reach(pitch: Pitch, heard_s: float, sd_s: float) -> bool:
    """Whether the ball was where a bat may meet it when something was heard."""
    launch = launch_of(pitch.fit.parameters[None])
    speed_mps = max(float(-launch.velocity_mps[0, 1]), 1e-6)
    first_s, last_s = (pitch.fit.contact_s + (pitch.fit.contact_m[1] - y) / speed_mps for y in REACH_Y_M)
    return bool(first_s - HEARD_SDS * sd_s < heard_s < last_s + HEARD_SDS * sd_s)


def _past(pitch: Pitch, scene: PitchScene) -> Sequence[Candidates]:
    """What moves in the frames from the plate on, until the ball would be near the ground if it flew on."""
    launch = launch_of(pitch.fit.parameters[None])
    path = fly(launch, scene.setting.medium, SOUGHT_S)
    low = path.position_m[0, :, 2] < CLEAR_OF_GROUND_M
    until_s = pitch.fit.contact_s + float(path.time_s[np.argmax(low)] if low.any() else SOUGHT_S)
    sought: list[Candidates] = []
    for frame in scene.frames:
        if frame.time_s >= until_s:
            break  # what comes later is not decoded
        if frame.time_s > pitch.fit.contact_s and (not sought or frame.time_s - sought[-1].time_s >= APART_S / 2):
            sought.append(scene.movers.of(frame))
    return sought


def _way(fit: FlightFit) -> _Way:
    order = [0, 1, 2, 3, 4, 5, 6, 8, 9]  # an arc has no drag
    sd = np.sqrt(np.diag(fit.covariance)[order])
    least = np.array([0.01, 0.01, 0.01, 0.1, 0.1, 0.1, 0.001, 0.02, 0.02])
    return _Way(fit.parameters[order], np.maximum(sd, least))


def _touched(way: _Way) -> Prior:
    speed = float(np.linalg.norm(way.mean[3:TIME]))
    beside = np.hypot(way.sd[:3], BESIDE_SD_M)
    turned = np.hypot(way.sd[3:TIME], TURNED_SHARE * speed)
    return Prior(way.mean, np.array([*beside, *turned, np.hypot(way.sd[TIME], LATER_SD_S), 0.2, 0.15]))


def _turned(touched: Incoming, fit: FlightFit, on: Incoming | None) -> bool:
    """Whether a way past the bat is another than the pitch's own."""
    before, after = np.asarray(fit.launch.velocity_mps), touched.arc[3:TIME]
    spread = touched.covariance[3:TIME, 3:TIME] + fit.covariance[3:6, 3:6]
    change = after - before
    sure = float(change @ np.linalg.solve(spread, change)) > LEAST_CHANGE_SQ
    cosine = float(before @ after / (np.linalg.norm(before) * np.linalg.norm(after)))
    turn_deg = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    unexplained = touched.evidence - (on.evidence if on else 0.0)
    return sure and turn_deg > LEAST_TURN_DEG and unexplained > LEAST_GAIN
