"""How well the best possible fit could know a swing, given where the phone stands and how it films."""

from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Evidence, Setting, Trust, camera_basis
from balltrack.flight.fit import FEWEST_ROWS, covariance, speed_and_angle_sds
from balltrack.flight.path import Launch, fly
from balltrack.flight.start import from_launch
from balltrack.units import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Filming:
    """When frames are taken and how sharply the ball is seen in them."""

    frame_s: Floats  # (n,) clip times at which the top row is exposed
    centre_sd_px: float = 0.5
    diameter_sd_px: float = 0.5


@dataclass(frozen=True, slots=True)
class Limit:
    """One sd of each number, by the bound of Cramér and Rao: no unbiased fit does better."""

    exit_speed_sd_mps: float
    launch_sd_deg: float
    spray_sd_deg: float
    frames: int  # in which the ball's centre is in the picture, in flight


def accuracy_limit(launch: Launch, contact: ContactPrior, setting: Setting, filming: Filming) -> Limit:
    """The bound for one launch at ``contact.time_s``; of the contact's position only the sd is used.

    Raises
    ------
    FlightError
        If the ball would be seen in fewer than three frames.
    """
    evidence = _perfect_evidence(launch, contact, setting, filming)
    frames = len(evidence.time_s)
    if frames < FEWEST_ROWS:
        raise FlightError(f"the ball would be seen in {frames} frames, at least {FEWEST_ROWS} are needed")
    spread, _ = covariance(evidence, from_launch(evidence, launch), Trust(np.ones(frames)))
    speed, rise, across = speed_and_angle_sds(launch.velocity_mps, spread[3:6, 3:6])
    return Limit(float(speed), float(np.degrees(rise)), float(np.degrees(across)), frames)


def _perfect_evidence(launch: Launch, contact: ContactPrior, setting: Setting, filming: Filming) -> Evidence:
    camera, radius_m = setting.camera, setting.ball.diameter_m / 2
    width, height = camera.size_px
    after_s = filming.frame_s[filming.frame_s >= contact.time_s] - contact.time_s
    path = fly(launch, setting.medium, float(after_s.max(initial=0.0)) + max(camera.readout_s, 0.0))
    row_s = after_s
    for _ in range(5):  # the ball's row, hence its time, depends on its place; each round gains two digits
        positions = path.at(row_s)[0]
        pixels = project_parameters(positions, camera.parameters)
        row_s = after_s + camera.readout_s * np.clip(np.nan_to_num(pixels[:, 1]), 0, height) / height
    seen = np.all((pixels > 0) & (pixels < [width, height]), axis=1) & (positions[:, 2] > radius_m)
    count = int(seen.sum())
    return Evidence(
        setting=setting,
        contact=contact,
        time_s=row_s[seen] + contact.time_s,
        centre_px=pixels[seen],
        centre_sd_px=np.full((count, 2), filming.centre_sd_px),
        diameter_px=apparent_diameter_px(positions[seen], camera.parameters, setting.ball.diameter_m),
        diameter_sd_px=np.full(count, filming.diameter_sd_px),
        camera_basis=camera_basis(camera.covariance),
    )
