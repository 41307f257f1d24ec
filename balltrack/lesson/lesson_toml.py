"""lesson.toml and lens.toml as a person writes them, and errors that name the line, the value and what is allowed."""

import datetime
import difflib
import tomllib
from collections.abc import Iterator, Sequence
from functools import cached_property
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from balltrack.errors import LessonError
from balltrack.lesson.toml_lines import Path as KeyPath
from balltrack.lesson.toml_lines import line_of, value_lines
from balltrack.lesson.toml_text import values_in
from balltrack.names import shown
from balltrack.plain_file import read_plain

FENCE_WAYS = 5  # left, left center, center, right center, right
MOST_TOML_BYTES = 1_000_000  # a lesson of a thousand swings with a note on each takes 200 kB
MOST_PROBLEMS = 30  # told at once; more are of a file that is no lesson.toml at all


class _Table(BaseModel):
    """Every description says what is allowed, in the words of the error message."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class PlayerTable(_Table):
    name: str = Field(min_length=1, max_length=80, description='a name in quotes, 1 to 80 letters: name = "Robin"')
    bats: Literal["right", "left"] = Field(description='"right" or "left"')


class BallTable(_Table):
    kind: Literal["softball-12", "softball-11", "baseball"] | None = Field(
        default=None, description='"softball-12", "softball-11" or "baseball"'
    )
    circumference_in: float | None = Field(default=None, ge=7, le=17, description="inches around the ball, 7 to 17")
    weight_oz: float | None = Field(default=None, ge=1, le=12, description="ounces, 1 to 12")


_Wind = Annotated[float, Field(ge=-25, le=25)]


class AirTable(_Table):
    temperature_c: float | None = Field(default=None, ge=-30, le=55, description="degrees Celsius, -30 to 55")
    pressure_hpa: float | None = Field(
        default=None, ge=500, le=1100, description="the pressure at the field itself in hPa, 500 to 1100"
    )
    altitude_m: float | None = Field(default=None, ge=-450, le=5000, description="metres above the sea, -450 to 5000")
    humidity_pct: float | None = Field(default=None, ge=0, le=100, description="per cent, 0 to 100")
    wind_mps: list[_Wind] | None = Field(
        default=None,
        min_length=2,
        max_length=2,
        description="two numbers from -25 to 25 in m/s, [toward the first-base side, toward second base]",
    )


_FenceFt = Annotated[float, Field(ge=30, le=600)]


class FieldTable(_Table):
    base_path_ft: float = Field(ge=30, le=120, description="feet from base to base, 30 to 120")
    fence_ft: _FenceFt | list[_FenceFt] | None = Field(
        default=None,
        description="feet from the plate, 30 to 600: one number, or [left, left center, center, right center, right]; "
        "leave it out where there is no fence",
    )
    fence_height_ft: float | None = Field(default=None, ge=0, le=60, description="feet, 0 to 60")
    pitching_distance_ft: float | None = Field(
        default=None, ge=20, le=80, description="feet from plate to rubber, 20 to 80"
    )


_Pixel = Annotated[float, Field(ge=-0.5, le=20000)]
_Place = Annotated[float, Field(ge=-250, le=250)]


class MarkTable(_Table):
    point: str | None = Field(default=None, description="the name of a point on the field in quotes")
    at_m: list[_Place] | None = Field(
        default=None,
        min_length=3,
        max_length=3,
        description="three numbers in metres from the plate's rear tip, [x, y, z]",
    )
    pixel: list[_Pixel] = Field(
        min_length=2, max_length=2, description="two numbers inside the picture, [right, down] from its top left corner"
    )
    sd_px: float | None = Field(
        default=None, gt=0, le=100, description="pixels, one standard deviation of a measured mark, above 0 to 100"
    )


_Size = Annotated[int, Field(ge=16, le=20000)]


_CAPTURE_FPS = Field(
    default=None, ge=10, le=2000, description="frames that the phone took in a real second, 10 to 2000"
)


class CameraTable(_Table):
    horizontal_fov_deg: float | None = Field(default=None, ge=5, le=150, description="degrees, 5 to 150")
    horizontal_fov_sd_pct: float | None = Field(
        default=None, gt=0, le=30, description="per cent of the angle, one standard deviation, above 0 to 30"
    )
    lens: str | None = Field(default=None, min_length=1, description='a file in the lesson folder: lens = "lens.toml"')
    readout_ms: float | None = Field(
        default=None, ge=0, le=60, description="milliseconds from top row to bottom row, 0 to 60"
    )
    image_size_px: list[_Size] | None = Field(
        default=None, min_length=2, max_length=2, description="two whole numbers, [width, height] of the marked picture"
    )
    capture_fps: float | None = _CAPTURE_FPS
    marks: list[MarkTable] = Field(min_length=1, description="at least one [[camera.marks]] with point and pixel")


class BlockTable(_Table):
    title: str | None = Field(default=None, max_length=120, description="a title in quotes, at most 120 letters")
    delivery: Literal["tee", "toss", "live"] | None = Field(default=None, description='"tee", "toss" or "live"')
    notes: str | None = Field(default=None, max_length=4000, description="text in quotes, at most 4000 letters")
    reps: int | None = Field(default=None, ge=1, le=10000, description="a whole number from 1 up")
    capture_fps: float | None = _CAPTURE_FPS


_NOTES = Field(default=None, max_length=4000, description="text in quotes, at most 4000 letters")


class AboutTable(_Table):
    """The table [lesson]."""

    date: datetime.date | None = Field(default=None, description="a day, without quotes: date = 2026-05-30")
    notes: str | None = _NOTES


class SwingTable(_Table):
    notes: str | None = _NOTES


class DrillTable(_Table):
    name: str = Field(min_length=1, max_length=120, description="the drill's name in quotes, 1 to 120 letters")
    repetitions: Annotated[int, Field(ge=1)] | Annotated[str, Field(max_length=80)] | None = Field(
        default=None, description='how often: a whole number, or words in quotes such as "3 x 10"'
    )
    words: str | None = _NOTES
    caution: str | None = _NOTES


class PlanTable(_Table):
    words: str | None = _NOTES
    drills: list[DrillTable] = Field(default_factory=list, description="tables [[plan.drills]] with a name")


class RecordedBlockTable(_Table):
    name: str = Field(
        pattern=r"^[^./\\][^/\\\n]*$", max_length=80, description='the block\'s folder in clips/: name = "01-tee"'
    )
    start: str = Field(
        pattern=r"^(\d{1,2}:[0-5])?\d{1,2}:[0-5]\d$",
        description='minutes and seconds in quotes, as a player shows them: start = "12:30", or "1:02:30"',
    )
    file: str | None = Field(
        default=None, min_length=1, max_length=255, description="the recording's name in quotes, if one of several"
    )


class RecordingTable(_Table):
    """What a long recording holds, for `balltrack split`; the clips cut from it do not depend on it any more."""

    blocks: list[RecordedBlockTable] = Field(
        default_factory=list, description="tables [[recording.blocks]] with name and start"
    )


class LessonTable(_Table):
    """The whole of lesson.toml."""

    player: PlayerTable = Field(description="a table [player] with name and bats")
    ball: BallTable = Field(description="a table [ball] with kind, or circumference_in and weight_oz")
    air: AirTable = Field(default=AirTable(), description="a table [air]")
    field: FieldTable = Field(description="a table [field] with base_path_ft")
    camera: CameraTable = Field(description="a table [camera] with marks")
    blocks: dict[str, BlockTable] = Field(default_factory=dict, description='tables such as [blocks."01-tee"]')
    lesson: AboutTable = Field(default=AboutTable(), description="a table [lesson] with date and notes")
    swings: dict[str, SwingTable] = Field(
        default_factory=dict, description='tables such as [swings."01-tee/001#1"] with notes'
    )
    plan: PlanTable = Field(default=PlanTable(), description="a table [plan] with words and [[plan.drills]]")
    recording: RecordingTable = Field(
        default=RecordingTable(), description="a table [recording] with [[recording.blocks]]"
    )


class BegunCameraTable(_Table):
    model_config = ConfigDict(extra="ignore")

    capture_fps: float | None = _CAPTURE_FPS


class BegunTable(_Table):
    """What a long recording is split by: of a lesson.toml that has just been begun nothing else need be right yet."""

    model_config = ConfigDict(extra="ignore")

    camera: BegunCameraTable = Field(default=BegunCameraTable(), description="a table [camera]")
    recording: RecordingTable = Field(default=RecordingTable(), description="a table [recording]")


class LensTable(_Table):
    """The whole of lens.toml: what filming a chessboard gave."""

    horizontal_fov_deg: float = Field(ge=5, le=150, description="degrees, 5 to 150")
    horizontal_fov_sd_pct: float = Field(default=0.3, gt=0, le=30, description="per cent of the angle, above 0 to 30")
    k1: float = Field(default=0.0, ge=-1, le=1, description="the lens's first distortion term, -1 to 1")
    k1_sd: float = Field(default=0.02, gt=0, le=1, description="one standard deviation of k1, above 0 to 1")
    image_size_px: list[_Size] | None = Field(
        default=None, min_length=2, max_length=2, description="two whole numbers, [width, height] of the filmed picture"
    )
    centre_px: list[_Pixel] | None = Field(
        default=None, min_length=2, max_length=2, description="two numbers, where the optical axis meets that picture"
    )
    centre_sd_px: float | None = Field(default=None, gt=0, le=2000, description="pixels, above 0 to 2000")


class KeptLensTable(_Table):
    """A phone's calibration as this machine keeps it. Pixels are those of the picture as stored, before rotation."""

    phone: str = Field(min_length=1, description="the phone's name in quotes")
    lens: str = Field(default="", description="the phone's own name for the lens, in quotes")
    date: datetime.date = Field(description="the day of the calibration: 2026-05-31")
    frames_per_s: int = Field(ge=1, le=10000, description="frames per real second, a whole number")
    size_px: list[_Size] = Field(min_length=2, max_length=2, description="two whole numbers, [width, height]")
    focal_px: float = Field(gt=0, description="pixels, above 0")
    focal_sd_px: float = Field(gt=0, description="pixels, above 0")
    k1: float = Field(ge=-1, le=1, description="the first distortion term, -1 to 1")
    k1_sd: float = Field(gt=0, le=1, description="above 0 to 1")
    centre_px: list[_Pixel] = Field(min_length=2, max_length=2, description="two numbers in pixels")
    centre_sd_px: float = Field(gt=0, description="pixels, above 0")
    rms_px: float = Field(ge=0, description="pixels")
    views: int = Field(ge=1, description="a whole number")
    distance_m: float = Field(gt=0, description="metres, above 0")
    focus_locked: bool = Field(description="true or false")


_Model = TypeVar("_Model", bound=_Table)


class TomlFile:
    """A TOML file with its lines, which words errors about itself."""

    def __init__(self, path: Path, data: bytes | None = None) -> None:
        """Read ``path``, or take ``data`` for it. Raises LessonError where it is missing, not text, or not TOML."""
        self.name = path.name
        try:
            self.data = read_plain(path, MOST_TOML_BYTES) if data is None else data
            text = self.data.decode("utf-8-sig")
            self.values = values_in(text)
        except FileNotFoundError:
            raise LessonError(f"{path} is missing; a lesson folder holds lesson.toml and clips/") from None
        except OSError as error:
            raise LessonError(f"{path} cannot be read: {error.strerror or error}") from None
        except UnicodeDecodeError:
            raise LessonError(f"{path} is not a text file in UTF-8; save it as plain text, UTF-8") from None
        except tomllib.TOMLDecodeError as error:
            raise LessonError(f"{self.name}: not valid TOML: {_toml_reason(error, text)}") from None
        self._text = text
        self.notices: list[str] = []  # of entries that nothing here knows

    @cached_property
    def _lines(self) -> dict[KeyPath, int]:
        return value_lines(self._text)  # when a line is asked for: most files are right

    def line(self, path: KeyPath) -> int | None:
        return line_of(self._lines, path)

    def error(self, path: KeyPath, what: str) -> str:
        """One line: file, line, field, what is wrong."""
        line = self.line(path)
        where = f"{self.name} line {line}" if line is not None else self.name
        return shown(f"{where}: {_dotted(path)} {what}")

    def parse(self, model: type[_Model]) -> _Model:
        """Check the file against ``model``; entries that it does not know are left out, each with a notice.

        Raises LessonError with one line for each wrong field.
        """
        try:
            return model.model_validate(self.values)
        except ValidationError as error:
            details = error.errors(include_url=False)
        unknown = [each for each in details if each["type"] == "extra_forbidden"]
        self.notices = [f"{words}; it is left out" for words in self._all_words(model, unknown)]
        try:
            return model.model_validate(_without(self.values, {each["loc"] for each in unknown}))
        except ValidationError:
            raise LessonError("\n".join(self._all_words(model, details))) from None

    def _all_words(self, model: type[_Table], details: Sequence[ErrorDetails]) -> list[str]:
        """Each problem once, and no more than a person reads."""
        words = list(dict.fromkeys(self._words(model, each) for each in details[: MOST_PROBLEMS + 1]))
        if len(words) <= MOST_PROBLEMS:
            return words
        return [*words[:MOST_PROBLEMS], f"{self.name}: and more of that kind: {len(details) - MOST_PROBLEMS}"]

    def _words(self, model: type[_Table], detail: ErrorDetails) -> str:
        path, allowed, siblings = _follow(model, detail["loc"])
        if detail["type"] == "extra_forbidden":
            hint = did_you_mean(str(path[-1]), siblings)
            return self.error(path, f"is not known here{hint}; known: {', '.join(siblings)}")
        if detail["type"] == "missing":
            return self.error(path, f"is missing; give {allowed}")
        return self.error(path, f"= {_shown(_value_at(self.values, path))} is not allowed; give {allowed}")


def did_you_mean(word: str, known: list[str]) -> str:
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def _toml_reason(error: tomllib.TOMLDecodeError, text: str) -> str:
    reason = str(error)
    if "at end of document" in reason:
        return reason.replace("at end of document", f"at the file's end, line {len(text.splitlines()) or 1}")
    return reason  # already carries "(at line 3, column 7)"


def _follow(model: type[_Table], loc: tuple[str | int, ...]) -> tuple[KeyPath, str, list[str]]:
    """Walk from the model along pydantic's location: the path in the file, what is allowed, the known names there.

    Steps that name no key or item, which pydantic adds for the arms of a union, end the walk.
    """
    path: KeyPath = ()
    kind: Any = model
    allowed = ""
    siblings: list[str] = []
    for step in loc:
        table = next((each for each in _arms(kind) if isinstance(each, type) and issubclass(each, _Table)), None)
        item = next((get_args(each)[-1] for each in _arms(kind) if get_origin(each) in (list, dict)), None)
        if table is not None:
            siblings = list(table.model_fields)
            path = (*path, step)
            if step not in siblings:
                break
            kind = table.model_fields[str(step)].annotation
            allowed = table.model_fields[str(step)].description or ""
        elif item is not None and (isinstance(step, int) or get_origin(kind) is dict):
            path = (*path, step)
            kind = item
    return path, allowed, siblings


def _arms(kind: Any) -> Iterator[Any]:
    if get_origin(kind) in (Union, UnionType):
        for arm in get_args(kind):
            yield from _arms(arm)
    elif get_origin(kind) is Annotated:
        yield from _arms(get_args(kind)[0])
    else:
        yield kind


def _without(values: Any, places: set[tuple[str | int, ...]], here: tuple[str | int, ...] = ()) -> Any:
    """A copy of nested tables and lists without the entries at some places."""
    if isinstance(values, dict):
        kept = {key: value for key, value in values.items() if (*here, key) not in places}
        return {key: _without(value, places, (*here, key)) for key, value in kept.items()}
    if isinstance(values, list):
        return [_without(value, places, (*here, index)) for index, value in enumerate(values)]
    return values


def _value_at(values: object, path: KeyPath) -> object:
    for step in path:
        values = values[step]  # type: ignore[index]  # the path was made from these values
    return values


def _shown(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _dotted(path: KeyPath) -> str:
    """camera.marks[3].pixel, counted from 1 as a person does."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text if len(text) <= 120 else text[:117] + "..."
