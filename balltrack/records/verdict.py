"""A person's word on whole swings: when contact was, that it was a miss, that it does not count.

``results/tracks/<block>/<clip>.hand.json`` stands beside the clip's track and its ``.hand.csv``. Only a person's work
writes it; measuring again leaves it as it is.
"""

import json
from collections.abc import Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from balltrack.errors import RecordError
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.hand import remove
from balltrack.records.store import track_path

LONGEST_REASON = 200


class Verdict(BaseModel):
    """What a person said of one swing. ``near_s`` tells which: numbers may change from run to run, times hardly do."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    swing: str = Field(description="the swing's id when it was said, such as 01-tee/001#1")
    near_s: float = Field(description="clip time at which the program saw the swing")
    contact_s: float | None = Field(default=None, description="clip time of contact, or null")
    miss: bool = Field(default=False, description="true or false")
    excluded: str = Field(default="", max_length=LONGEST_REASON, description="why it does not count, or nothing")
    added: bool = Field(default=False, description="true where the program saw no swing there, and a person did")

    @model_validator(mode="after")
    def _no_contact_of_a_miss(self) -> "Verdict":
        if self.miss and self.contact_s is not None:
            raise ValueError("a miss has no contact: give miss or contact_s, not both")
        return self

    @property
    def says_something(self) -> bool:
        """Whether anything is left of it after an undo."""
        return self.miss or self.contact_s is not None or bool(self.excluded) or self.added


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    swings: tuple[Verdict, ...]


def verdict_path(clip: str) -> Path:
    """``clips/01-tee/001.mp4`` -> ``tracks/01-tee/001.hand.json``, inside the results folder."""
    return track_path(clip).with_suffix(".hand.json")


def read_verdicts(path: Path) -> tuple[Verdict, ...]:
    """All verdicts of a .hand.json; none where there is no such file.

    Raises
    ------
    RecordError
        If the file cannot be read or a field is wrong, with the swing and the field.
    """
    try:
        data = read_plain(path)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise RecordError(f"{path} cannot be read ({error}); repair it or move it away") from None
    try:
        found = _File.model_validate_json(data)
    except ValidationError as error:
        raise RecordError(f"{path}: {_first_problem(error)}; repair it or move it away") from None
    return found.swings


def write_verdicts(path: Path, verdicts: Sequence[Verdict]) -> None:
    """Write a .hand.json in order of time, or take it away where nothing is left to say.

    Raises RecordError where it cannot be written.
    """
    kept = sorted((each for each in verdicts if each.says_something), key=lambda each: each.near_s)
    if kept:
        content = {"swings": [each.model_dump(exclude_defaults=True) for each in kept]}
        write_atomic(path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")
    else:
        remove(path)


def _first_problem(error: ValidationError) -> str:
    problem = error.errors(include_url=False)[0]
    place = [str(part + 1) if isinstance(part, int) else part for part in problem["loc"]]
    where = f"{' '.join(place)}: " if place else ""
    words = problem["msg"].removeprefix("Value error, ").splitlines()[0]
    field = Verdict.model_fields.get(str(problem["loc"][-1])) if place else None
    return f"{where}{words[:1].lower()}{words[1:]}" + (f" ({field.description})" if field else "")
