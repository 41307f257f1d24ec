"""How long the shutter of each clip was open, as its balls told when they were measured, and what that smears."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np

from balltrack.batch import units_in
from balltrack.camera.model import Camera, apparent_diameter_px, project
from balltrack.contact import CONTACT_M
from balltrack.desk.lesson_file import NAME
from balltrack.errors import MeasureError
from balltrack.lesson.unmarked import load_unmarked
from balltrack.planning.phone import SHARP_SD_PX, Phone
from balltrack.records.basis_file import basis_path
from balltrack.records.camera_file import read_camera
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED
from balltrack.units import MPS_PER_MPH

HARD_HIT_MPS = 90 * MPS_PER_MPH  # common practice, no source
LAUNCH_DEG, DIRECTIONS_DEG = 15.0, (-45.0, 0.0, 45.0)  # a line drive along either foul line, and between them
SUFFERS = 1.5  # times as unsure as a sharp ball's place: from here on it is worth a word (judgement, no source)
ADVICE = "film in brighter light with the shutter at 1/1000 s or shorter"  # as `balltrack plan` has it


@dataclass(frozen=True, slots=True)
class Shutter:
    """One clip's shutter in words, and a warning where it was open so long that accuracy suffers."""

    words: str
    warning: str = ""


NOT_MEASURED = Shutter("shutter: not known until measured")
NO_BALL = Shutter("shutter: not told, no ball was measured")
NOT_TOLD = Shutter("shutter: not told, no ball measured shows a clear streak")


@dataclass(frozen=True, slots=True, eq=False)
class _Sight:
    """What turns a shutter time into a smear."""

    camera: Camera
    ball_m: float  # its diameter


def shutters_of(folder: Path, clips: tuple[str, ...]) -> Mapping[str, Shutter]:
    """The shutter of each clip, by names such as ``clips/01-tee/001.mp4``. Results that cannot be read tell nothing."""
    results = folder / "results"
    try:
        swings = read_swings(results / "swings.jsonl")
    except MeasureError:
        swings = ()
    sight = _sight(folder) if any(swing.exposure_s for swing in swings) else None
    speed = SPEED[units_in(results)]
    hit = f"{HARD_HIT_MPS / speed.si_per_unit:.0f} {speed.unit}"
    found = {}
    for clip in clips:
        own = [swing for swing in swings if swing.clip == clip]
        exposures_s = [swing.exposure_s for swing in own if swing.exposure_s]
        if exposures_s:
            found[clip] = _told(median(exposures_s), sight, hit)
        else:
            found[clip] = _untold(own, (results / basis_path(clip)).exists())
    return found


def _untold(own: list[Swing], measured: bool) -> Shutter:
    if any(swing.outcome == "measured" for swing in own):
        return NOT_TOLD
    return NO_BALL if own or measured else NOT_MEASURED


def _sight(folder: Path) -> _Sight | None:
    """The camera of the last run and the lesson's ball; None where either cannot be read any more."""
    try:
        camera = read_camera(folder / "results" / "camera.json").camera
        return _Sight(camera, load_unmarked(folder / NAME).ball.diameter_m)
    except MeasureError:
        return None


def _told(exposure_s: float, sight: _Sight | None, hit: str) -> Shutter:
    words = f"shutter about 1/{float(f'{1 / exposure_s:.2g}'):.0f} s"
    if sight is None:
        return Shutter(words)
    smear_px = smeared_px(exposure_s, sight.camera)
    width_px = float(apparent_diameter_px(CONTACT_M[None], sight.camera.parameters, sight.ball_m)[0])
    if not (np.isfinite(smear_px) and np.isfinite(width_px)):
        return Shutter(words)
    words = f"{words}: a {hit} ball is smeared over up to {smear_px:.0f} px at contact, where it is {width_px:.0f} wide"
    speed_pxps, width = np.array([smear_px / exposure_s]), np.array([width_px])
    unsure = float(Phone(shutter_s=exposure_s).noise_px(speed_pxps, width)[0]) / SHARP_SD_PX
    if unsure < SUFFERS:
        return Shutter(words)
    return Shutter(words, f"blur: such a ball's place is {unsure:.1f} times as unsure as a sharp one's; {ADVICE}")


def smeared_px(exposure_s: float, camera: Camera) -> float:
    """How far a hard hit's ball moves in the picture while the shutter is open, at the usual contact point.

    That of the direction in which it moves most: a ball that flies straight away from the phone hardly moves.
    """
    rise, across = np.radians(LAUNCH_DEG), np.radians(DIRECTIONS_DEG)
    flat = np.cos(rise)
    along = np.stack([flat * np.sin(across), flat * np.cos(across), np.full(len(across), np.sin(rise))], axis=1)
    half_m = 0.5 * HARD_HIT_MPS * exposure_s * along
    run_px = project(CONTACT_M + half_m, camera) - project(CONTACT_M - half_m, camera)
    return float(np.max(np.linalg.norm(run_px, axis=1)))
