"""One swing as kept: a line of swings.jsonl. SI, degrees where the name says so, null for what could not be had."""

import itertools
import json
import math
from collections.abc import Collection
from dataclasses import asdict, dataclass, fields
from functools import cache
from pathlib import PurePosixPath
from typing import Any, Literal, get_args, get_type_hints

from balltrack.errors import RecordError
from balltrack.names import shown

Outcome = Literal["measured", "no_contact", "not_measured"]
FieldSide = Literal["pull", "middle", "opposite"]
FlightKind = Literal["ground_ball", "line_drive", "fly_ball", "pop_up"]
Quality = Literal["good", "fair", "poor"]
Ended = Literal["fair", "foul", "tip", "miss", "take"]
Vector2 = tuple[float, float]
Vector3 = tuple[float, float, float]
Matrix2 = tuple[Vector2, Vector2]

MEASURED_FIELDS = ("exit_speed_mps", "exit_speed_sd_mps", "launch_deg", "launch_sd_deg", "spray_deg", "spray_sd_deg")


@dataclass(frozen=True, slots=True)
class Swing:
    """One swing. Raises ValueError for NaN, infinity, or numbers that its outcome cannot have."""

    swing: str  # see swing_id
    clip: str  # path inside the lesson folder: clips/01-tee/001.mp4
    block: str  # 01-tee
    outcome: Outcome
    balltrack_version: str
    settings_hash: str
    reason: str = ""  # why there are no numbers; empty where measured
    contact_s: float | None = None  # clip time
    exit_speed_mps: float | None = None
    exit_speed_sd_mps: float | None = None
    launch_deg: float | None = None
    launch_sd_deg: float | None = None
    spray_deg: float | None = None
    spray_sd_deg: float | None = None
    contact_m: Vector3 | None = None  # the ball's centre, field frame
    contact_sd_m: Vector3 | None = None
    contact_depth_m: float | None = None  # in front of the plate's front edge
    carry_m: float | None = None
    carry_sd_m: float | None = None
    landing_m: Vector2 | None = None
    landing_cov_m2: Matrix2 | None = None
    hang_s: float | None = None
    apex_m: float | None = None
    tail_m: float | None = None
    tail_sd_m: float | None = None
    fence_clear_probability: float | None = None
    field_side: FieldSide | None = None
    flight: FlightKind | None = None
    pitch_speed_mps: float | None = None
    frames_used: int | None = None
    residual_px: float | None = None
    quality: Quality | None = None
    detector: str = ""  # motion, or motion and the network with these weights: "motion, ball.onnx 1a2b3c4d"
    warnings: tuple[str, ...] = ()
    by_hand: tuple[str, ...] = ()  # what a person put right: "2 ball positions set", "contact", "miss", "excluded"
    excluded: str = ""  # why a person left it out of charts and summaries; empty where it counts
    exposure_s: float | None = None  # how long the shutter was open, by the ball's streaks; None where none tells
    ended: Ended | None = None  # take: a pitch that the batter let go; None where it cannot be told
    # Of pitch_speed_mps, which is that of the moment at which the pitch was first seen.
    pitch_speed_sd_mps: float | None = None
    pitch_apex_m: float | None = None  # highest point of the ball's centre above the ground on its way to the plate
    pitch_apex_sd_m: float | None = None
    pitch_descent_deg: float | None = None  # below the horizon, where it crosses the plate's front edge or would have
    pitch_descent_sd_deg: float | None = None
    pitch_plate_m: Vector2 | None = None  # there: x of the field frame, height
    pitch_plate_sd_m: Vector2 | None = None
    pitch_frames: int | None = None  # that the pitch's flight is fitted to
    # From contact, or in a miss from the middle of the swing, to when the pitch is there: negative is late.
    early_s: float | None = None
    early_sd_s: float | None = None
    # How far off the pitch's own path the hit's flight has the contact, across it: toward first base, upward.
    contact_off_pitch_m: Vector2 | None = None
    contact_off_pitch_sd_m: Vector2 | None = None

    @property
    def counts(self) -> bool:
        """Whether it goes into charts and summaries: a pitch that the batter let go is no swing."""
        return not self.excluded and self.ended != "take"

    def __post_init__(self) -> None:
        for each in fields(self):
            if not _finite(getattr(self, each.name)):
                raise ValueError(f"{each.name} of {self.swing} is not finite; what could not be had is None")
        has = [name for name in MEASURED_FIELDS if getattr(self, name) is not None]
        if self.outcome == "measured" and len(has) < len(MEASURED_FIELDS):
            lacks = [name for name in MEASURED_FIELDS if name not in has]
            raise ValueError(f"{self.swing} is measured but lacks {', '.join(lacks)}")
        if self.outcome != "measured" and has:
            raise ValueError(f"{self.swing} is {self.outcome} but has {', '.join(has)}")
        if self.outcome == "not_measured" and not self.reason:
            raise ValueError(f"{self.swing} is not measured but says no reason")


def swing_id(clip: str, number: int) -> str:
    """Id of the ``number``-th swing (from 1) of ``clips/01-tee/001.mp4``: ``01-tee/001#1``."""
    path = PurePosixPath(clip)
    return f"{path.parent.name}/{path.stem}#{number}"


def free_swing_id(clip: str, taken: Collection[str], wanted: str = "") -> str:
    """An id for one more swing of a clip: the one ``wanted`` where it is of this clip and free, else the next free."""
    clip_id = swing_id(clip, 0).removesuffix("0")
    if wanted not in taken and wanted.startswith(clip_id) and wanted.removeprefix(clip_id).isdecimal():
        return wanted
    return next(name for number in itertools.count(1) if (name := swing_id(clip, number)) not in taken)


def to_json(swing: Swing) -> str:
    """One line, every field written, in the order of the class."""
    return json.dumps(asdict(swing), ensure_ascii=False, allow_nan=False)


def from_json(line: str) -> Swing:
    """Read one line back. Raises RecordError for anything that to_json would not have written."""
    try:
        found = json.loads(line, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise RecordError(f"not a line of JSON ({error})") from None
    if not isinstance(found, dict):
        raise RecordError("not a swing record: no {…} in it")
    hints = _hints()
    unknown = [name for name in found if name not in hints]
    if unknown:
        raise RecordError(f"unknown field {shown(unknown[0][:60])}: written by a newer balltrack? update balltrack")
    values: dict[str, Any] = {name: _checked(name, value, hints[name]) for name, value in found.items()}
    try:
        return Swing(**values)
    except TypeError as error:
        raise RecordError(f"not a swing record: {str(error).removeprefix('Swing.__init__() ')}") from None
    except ValueError as error:
        raise RecordError(str(error)) from None


def _finite(value: object) -> bool:
    if isinstance(value, tuple):
        return all(_finite(each) for each in value)
    return not isinstance(value, float) or math.isfinite(value)


def _refuse_constant(word: str) -> float:
    raise ValueError(f"{word} is no number")


@cache
def _hints() -> dict[str, Any]:
    return get_type_hints(Swing)


def _checked(name: str, value: object, hint: Any) -> object:
    """``value`` with lists made tuples, if it has the type of the field; else RecordError."""
    for arm in get_args(hint) if type(None) in get_args(hint) else (hint,):
        try:
            return _as(value, arm)
        except (TypeError, OverflowError):  # the latter for whole numbers that no float holds
            continue
    raise RecordError(f"{name} = {_brief(value)} is not allowed")


def _brief(value: object) -> str:
    """As JSON has it where that is short; a list or a table may nest deeper than it can be written."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    text = json.dumps(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _as(value: object, arm: Any) -> object:
    parts = get_args(arm)
    if isinstance(value, list) and parts and Ellipsis in parts:
        return tuple(_as(each, parts[0]) for each in value)
    if isinstance(value, list) and len(parts) == len(value):
        return tuple(_as(each, part) for each, part in zip(value, parts, strict=True))
    if parts:
        if isinstance(value, str) and value in parts:  # a Literal
            return value
    elif arm is float and type(value) in (int, float):
        return float(value)  # type: ignore[arg-type]  # narrowed by type()
    elif type(value) is arm:
        return value
    raise TypeError
