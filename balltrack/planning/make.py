"""From what a person enters to the plan: the words, and the picture as a file."""

from dataclasses import dataclass
from math import inf, radians
from pathlib import Path

from balltrack.camera.marks import DEFAULT_FOCAL_SD_SHARE, LensPrior
from balltrack.camera.model import fov_of_focal_rad
from balltrack.errors import PlanError
from balltrack.field import Fence, ball_of_kind
from balltrack.lesson import Delivery
from balltrack.lesson.lens_choice import FilmedBy, filmed_by
from balltrack.lesson.unmarked import Unmarked, load_unmarked
from balltrack.planning.advice import CAUTION, checks, recommendation, remedies
from balltrack.planning.hits import USUAL_SPEED_MPS, Expected, Side
from balltrack.planning.phone import MAIN_LENS_FOV_DEG, WIDE, Phone
from balltrack.planning.picture import draw_plan, plan_bytes
from balltrack.planning.safety import SafeZones
from balltrack.planning.scene import Ground, Scene, scene_of
from balltrack.planning.survey import survey
from balltrack.records.atomic import write_atomic
from balltrack.records.table import DISTANCE, SPEED, Units
from balltrack.units import M_PER_FT
from balltrack.video.phone import rate_class

HITS = 12  # that stand for all: their mean is that of 48 to 3 parts in 100
USUAL_BASE_PATH_M = {"softball-12": 65 * M_PER_FT, "softball-11": 65 * M_PER_FT, "baseball": 90 * M_PER_FT}
USUAL_BALL, USUAL_LINES = "softball-12", 1080
PICTURES = (".png", ".svg")
PICTURE = "plan.png"


@dataclass(frozen=True, slots=True)
class Entered:
    """What a person enters; None is what was left out. Distances and speeds in the person's units."""

    units: Units = "us"
    lesson: Path | None = None  # a lesson folder, or its lesson.toml
    ball: str | None = None
    bats: Side | None = None
    delivery: Delivery | None = None
    exit_speed: float | None = None
    base_path: float | None = None
    stopped_at: float | None = None  # by a fence or a net
    fov_deg: float | None = None
    lens_error_pct: float | None = None
    lines: int | None = None
    frames_per_s: float = 60.0
    shutter: float = 1000.0  # the s in 1/s seconds
    screen: bool = False
    out: Path | None = None


def make_plan(entered: Entered) -> str:
    """Work out where to stand, write the picture, and say it all in lines.

    Raises
    ------
    PlanError
        If no safe place shows the hits, or the picture's kind is not known.
    LessonError
        If the lesson is wrong.
    RecordError
        If the picture cannot be written.
    """
    out = _picture_path(entered)
    known = load_unmarked(entered.lesson) if entered.lesson else None
    own = _own_lens(entered, known)
    scene = _scene(entered, known, own)
    zones = SafeZones(scene.bats, scene.ground.ball.kind, entered.screen)
    found = survey(scene, zones)
    write_atomic(out, plan_bytes(draw_plan(found, scene, zones, entered.units), out.suffix[1:].lower()))
    helps = remedies(found.best, scene, entered.units)
    return "\n".join(
        [
            recommendation(found.best, scene, entered.units),
            CAUTION,
            *([_lens_words(own, entered)] if own else []),
            *(["", "What would help most:", *(f"  {line}" for line in helps)] if helps else []),
            "",
            "Before each lesson:",
            *(f"  [ ] {check.what}\n      why: {check.why}" for check in checks(scene, entered.units)),
            "",
            f"The map: {out}",
        ]
    )


def _picture_path(entered: Entered) -> Path:
    if entered.out is None:
        beside = entered.lesson if entered.lesson is not None and entered.lesson.is_dir() else Path()
        return beside / PICTURE
    if entered.out.suffix.lower() not in PICTURES:
        raise PlanError(f"{entered.out}: the plan is drawn as {' or '.join(PICTURES)}; give such a name")
    return entered.out


def _own_lens(entered: Entered, known: Unmarked | None) -> FilmedBy | None:
    """The calibration of the phone that filmed the lesson's clips, where nothing typed or stated goes before it."""
    if entered.lesson is None or known is None or known.lens.horizontal_fov_deg is not None or entered.fov_deg:
        return None
    return filmed_by(entered.lesson if entered.lesson.is_dir() else entered.lesson.parent, known.lens)


def _in_its_mode(own: FilmedBy, entered: Entered) -> bool:
    """Whether the phone will film as it was calibrated: another mode may crop otherwise."""
    same_rate = rate_class(entered.frames_per_s) == own.mode.frames_per_s
    return same_rate and entered.lines in (None, min(own.size_px))


def _lens_words(own: FilmedBy, entered: Entered) -> str:
    if _in_its_mode(own, entered):
        return f"Planned with the {own.words}."
    return (
        f"This phone's calibration is kept for {own.mode.words}, which is not what is planned: not used. Plan with "
        f"--fps {own.mode.frames_per_s} --lines {min(own.size_px)} to use it."
    )


def _scene(entered: Entered, known: Unmarked | None, own: FilmedBy | None) -> Scene:
    """What was typed goes before the lesson, and both before what is usual."""
    ball = known.ball if known and entered.ball is None else ball_of_kind(entered.ball or USUAL_BALL)
    base_path_m = known.base_path_m if known else USUAL_BASE_PATH_M[ball.kind]
    fence = known.fence if known else None
    far_m = DISTANCE[entered.units].si_per_unit
    if entered.base_path is not None:
        base_path_m = entered.base_path * far_m
    if entered.stopped_at is not None:
        fence = Fence((entered.stopped_at * far_m,), height_m=inf)
    return scene_of(
        _phone(entered, known, own), Ground(ball, base_path_m, fence), _expected(entered, known, ball.kind), HITS
    )


def _expected(entered: Entered, known: Unmarked | None, kind: str) -> Expected:
    speed_mps, sd_mps = USUAL_SPEED_MPS[kind]
    if entered.exit_speed is not None:
        stated_mps = entered.exit_speed * SPEED[entered.units].si_per_unit
        speed_mps, sd_mps = stated_mps, sd_mps * stated_mps / speed_mps
    return Expected(
        bats=entered.bats or (known.bats if known else "right"),
        delivery=entered.delivery or (known.delivery if known else None) or "tee",
        speed_mps=speed_mps,
        speed_sd_mps=sd_mps,
    )


def _phone(entered: Entered, known: Unmarked | None, own: FilmedBy | None) -> Phone:
    """Landscape; the lens of a lesson that was marked on upright pictures is turned with it."""
    size_px = (known.size_px if known else None) or (round(WIDE * USUAL_LINES), USUAL_LINES)
    fov_rad, share_sd = radians(MAIN_LENS_FOV_DEG), None
    lens = known.lens.prior(size_px[0]) if known else LensPrior()
    if own is not None and _in_its_mode(own, entered):
        size_px, lens = own.size_px, own.prior
    if lens.focal_px is not None:
        fov_rad = fov_of_focal_rad(lens.focal_px, max(size_px))
        share_sd = lens.focal_sd_px / lens.focal_px if lens.focal_sd_px else DEFAULT_FOCAL_SD_SHARE
    if entered.fov_deg is not None:
        fov_rad, share_sd = radians(entered.fov_deg), None
    if entered.lens_error_pct is not None:
        share_sd = entered.lens_error_pct / 100
    return Phone(
        fov_rad, share_sd, lens.k1_sd, entered.lines or min(size_px), entered.frames_per_s, 1 / entered.shutter
    )
