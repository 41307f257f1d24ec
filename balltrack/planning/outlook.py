"""What to expect of one place: how many hits stay in the picture, and how surely their numbers will be known."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.air import standard_air
from balltrack.camera.marks import FEWEST_MARKS
from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.camera.solve import foresee
from balltrack.contact import CONTACT_M, HEARD_SD_S
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import FEWEST_ROWS
from balltrack.flight.limit import Filming, launch_limit
from balltrack.planning.aim import Stance, aim
from balltrack.planning.hits import Hit
from balltrack.planning.people import hidden
from balltrack.planning.phone import SHARP_SD_PX
from balltrack.planning.scene import Scene
from balltrack.records.describe import FEW_FRAMES
from balltrack.track.search import CONTACT_SD_M, TEE_SD_M
from balltrack.units import MPS_PER_MPH, Floats

BAT_CARRY_PX = 0.3  # a ball leaves the tee's place a little after the bat has it
# What makes two places differ for a coach: so much of exit speed, launch and spray (judgement, no source).
MATTERS = np.array([MPS_PER_MPH, 1.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """One place, judged. One sd each, the mean over the hits that stay long enough; NaN where none does."""

    place_m: Floats  # (3,) the lens
    stance: Stance
    exit_speed_sd_mps: float
    launch_sd_deg: float
    spray_sd_deg: float
    share: float  # of the hits that stay in the picture for enough frames
    cost: float  # the lower, the better; hits that do not stay count as known no better than before the swing


def outlook(place_m: Floats, scene: Scene) -> Outlook:
    """Judge a place of the lens (3,), the phone turned the best way. [m]"""
    stance = aim(place_m, scene)
    sds = np.full((len(scene.hits), 3), np.nan)
    if len(stance.marks_m) >= FEWEST_MARKS and stance.whole_plate:
        phone = scene.phone
        camera = foresee(stance.camera, stance.marks_m, phone.size_px, phone.lens, phone.readout)
        setting = Setting(camera, scene.ground.ball, standard_air())
        for index, (hit, seen) in enumerate(zip(scene.hits, stance.seen, strict=True)):
            if hit.rows[seen].sum() >= FEW_FRAMES and seen.sum() >= FEWEST_ROWS:
                sds[index] = _limit(hit, seen, setting, scene)
    kept = np.isfinite(sds[:, 0])
    blind = np.array(scene.expected.sds)
    errors = np.minimum(np.where(np.isfinite(sds), sds, blind), blind) / MATTERS
    mean = sds[kept].mean(axis=0) if kept.any() else np.full(3, np.nan)
    speed, rise, across = (float(sd) for sd in mean)
    return Outlook(place_m, stance, speed, rise, across, float(kept.mean()), float(np.sqrt(np.mean(errors**2))))


def _limit(hit: Hit, seen: NDArray[np.bool_], setting: Setting, scene: Scene) -> Floats:
    """(3,) least sd of exit speed [m/s], launch and spray [deg] of a hit."""
    camera, diameter_m = setting.camera.parameters, setting.ball.diameter_m
    points = hit.points_m[seen]
    now, later = (project_parameters(each, camera) for each in (points, hit.after_m[seen]))
    wide_px = apparent_diameter_px(points, camera, diameter_m)
    speed_px = np.hypot(*(later - now).T) / 0.001
    noise_px = scene.phone.noise_px(speed_px, wide_px) / np.sqrt(hit.rows[seen])
    filming = Filming(hit.time_s[seen], noise_px, noise_px)
    limit = launch_limit(hit.launch, _contact(setting, scene), setting, filming, hit.path)
    return np.array([limit.exit_speed_sd_mps, limit.launch_sd_deg, limit.spray_sd_deg])


def _contact(setting: Setting, scene: Scene) -> ContactPrior:
    """What will be known of the contact: its sound, the habit of batters, and the ball on the tee where it is seen."""
    if scene.delivery != "tee":
        return ContactPrior(0.0, HEARD_SD_S, CONTACT_M, CONTACT_SD_M)
    camera = setting.camera
    if hidden(CONTACT_M[None], camera.position_field_m, scene.people).any():
        return ContactPrior(0.0, HEARD_SD_S, CONTACT_M, TEE_SD_M)
    place = CONTACT_M[None]
    return ContactPrior(
        0.0,
        HEARD_SD_S,
        CONTACT_M,
        TEE_SD_M,
        pixel_px=project_parameters(place, camera.parameters)[0],
        pixel_sd_px=float(np.hypot(SHARP_SD_PX, BAT_CARRY_PX)),
        diameter_px=float(apparent_diameter_px(place, camera.parameters, setting.ball.diameter_m)[0]),
        diameter_sd_px=SHARP_SD_PX,
    )
