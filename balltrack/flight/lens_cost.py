"""What it costs a swing's numbers that the lens is known only so well."""

from dataclasses import dataclass, replace

import numpy as np

from balltrack.camera.model import PARAMETERS, Camera
from balltrack.contact import CONTACT_M, HEARD_SD_S
from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.forces import LIFT_UP_PRIOR
from balltrack.flight.limit import Filming, LaunchLimit, launch_limit
from balltrack.flight.path import Launch
from balltrack.units import MPS_PER_MPH

OF_THE_LENS = [PARAMETERS.index(name) for name in ("focal_px", "k1", "cx_px", "cy_px")]
# Hits to ask about: 65 mph, 12 degrees up, to left, middle and right; the first 30 ms hidden by the bat, then followed
# for 0.6 s. Contact is known to a hand's breadth or two. Common practice, no source.
SPEED_MPS, RISE_RAD, SPRAYS_RAD = 65 * MPS_PER_MPH, np.radians(12.0), np.radians([-20.0, 0.0, 20.0])
FROM_S, UNTIL_S = 0.03, 0.6
CONTACT_SD_M = np.array([0.25, 0.3, 0.25])
USUAL_FPS = 60.0
TOLD_SDS = 1.645  # 90 in 100 lie within; what people read as ±


@dataclass(frozen=True, slots=True, eq=False)
class LensCost:
    """One sd of a usual hit's numbers by itself, with the lens as it is known, and with a lens known perfectly."""

    focal_share: float  # one sd of the focal length, the marks heard
    now: LaunchLimit
    perfect: LaunchLimit

    @property
    def words(self) -> str:
        """For a person; ± as 90 in 100."""
        known = f"focal length known to {100 * self.focal_share:.1f} %"
        both = zip(("exit speed", "launch", "spray"), _told(self.now), _told(self.perfect), strict=True)
        loses = [(what, now, best) for what, now, best in both if now != best]
        if not loses:
            return f"{known}, which costs a usual hit nothing that shows"
        (what, now, best), *others = loses
        first = f"{what} of a usual hit comes to {now} instead of {best} with a perfectly known lens"
        return ", ".join([f"{known}: {first}", *(f"{what} to {now} instead of {best}" for what, now, best in others)])


def _told(limit: LaunchLimit) -> tuple[str, str, str]:
    """As people read it."""
    speed = TOLD_SDS * limit.exit_speed_sd_mps / MPS_PER_MPH
    return f"±{speed:.1f} mph", f"±{TOLD_SDS * limit.launch_sd_deg:.1f}°", f"±{TOLD_SDS * limit.spray_sd_deg:.1f}°"


def lens_cost(setting: Setting, frames_per_s: float) -> LensCost | None:
    """What the lens costs here; None where the camera sees no usual hit.

    The camera's covariance tells it: the same hits, once with all of it and once given the lens.
    """
    camera = setting.camera
    known = replace(setting, camera=_given_the_lens(camera))
    now, perfect = (_mean_limit(each, frames_per_s) for each in (setting, known))
    if now is None or perfect is None:
        return None
    return LensCost(float(np.sqrt(camera.covariance[6, 6])) / camera.focal_px, now, perfect)


def _given_the_lens(camera: Camera) -> Camera:
    """The same camera, were its lens known: its place and turn are then known better, too."""
    spread, lens = camera.covariance, OF_THE_LENS
    gain = np.linalg.pinv(spread[np.ix_(lens, lens)], hermitian=True) @ spread[lens]
    return replace(camera, covariance=np.asarray(spread - spread[:, lens] @ gain))


def _mean_limit(setting: Setting, frames_per_s: float) -> LaunchLimit | None:
    frame_s = np.arange(FROM_S, UNTIL_S, 1 / (frames_per_s or USUAL_FPS))
    contact = ContactPrior(0.0, HEARD_SD_S, CONTACT_M, CONTACT_SD_M)
    limits = []
    for spray in SPRAYS_RAD:
        level = np.cos(RISE_RAD) * np.array([np.sin(spray), np.cos(spray)])
        velocity_mps = SPEED_MPS * np.array([*level, np.sin(RISE_RAD)])
        launch = Launch(CONTACT_M, velocity_mps, setting.ball.drag, LIFT_UP_PRIOR.mean, 0.0)
        try:
            limits.append(launch_limit(launch, contact, setting, Filming(frame_s)))
        except FlightError:
            continue  # out of the picture too soon
    if not limits:
        return None
    sds = np.mean([[each.exit_speed_sd_mps, each.launch_sd_deg, each.spray_sd_deg] for each in limits], axis=0)
    return LaunchLimit(*sds.tolist())
