"""What a coach draws on stills: lines, arrows, words, each still one picture of one clip.

``results/drawings.jsonl`` has a line for each still, in the order of clips and times. Only a person's work writes it;
measuring again leaves it as it is.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from balltrack.errors import RecordError, ShapeError
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.hand import remove
from balltrack.records.swing import Swing

NAME = "drawings.jsonl"
MOST_LETTERS = 80  # of one note: more hides the picture
MOST_MARKS = 40
NEAR_S = 1.2  # a still belongs to the swing whose contact is no further from it

Kind = Literal["line", "arrow", "words"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawing:
    """One mark, in pixels of its picture; the centre of the top left pixel is (0, 0).

    A line runs through two or more points, an arrow from the first of two to the second; words begin, with their
    plate's top left corner, at the one point they have.
    """

    kind: Kind
    points_px: tuple[Point, ...]
    words: str = ""

    def __post_init__(self) -> None:
        least, most = {"line": (2, 200), "arrow": (2, 2), "words": (1, 1)}[self.kind]
        if not least <= len(self.points_px) <= most:
            raise ShapeError(f"{self.kind} has {least} to {most} points, not {len(self.points_px)}")
        if not np.isfinite(self.points_px).all():
            raise ShapeError(f"a point of {self.kind} is not finite")
        if bool(self.words.strip()) != (self.kind == "words"):
            raise ShapeError("words belong to the kind 'words', and to no other")
        if len(self.words) > MOST_LETTERS:
            raise ShapeError(f"words have {len(self.words)} letters; {MOST_LETTERS} are most")


class DrawnStill(BaseModel):
    """A picture of a clip and what is drawn on it."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    swing: str = Field(description="the swing's id when it was drawn, such as 01-tee/001#1")
    clip: str = Field(description="such as clips/01-tee/001.mp4")
    time_s: float = Field(description="clip time of the picture")
    view_px: tuple[
        Annotated[int, Field(ge=0)],
        Annotated[int, Field(ge=0)],
        Annotated[int, Field(ge=8)],
        Annotated[int, Field(ge=8)],
    ] = Field(description="the part that is shown: left, top, width, height in pixels of the upright picture")
    marks: tuple[Drawing, ...] = Field(
        min_length=1, max_length=MOST_MARKS, description="in pixels of the upright picture"
    )


def read_drawings(results: Path) -> tuple[DrawnStill, ...]:
    """All stills that were drawn on in a lesson; none where there is no such file.

    Raises
    ------
    RecordError
        If a line cannot be read, with its number and the field.
    """
    path = results / NAME
    try:
        text = read_plain(path).decode()
    except FileNotFoundError:
        return ()
    except (OSError, UnicodeDecodeError) as error:
        raise RecordError(f"{path} cannot be read ({error}); repair it or move it away") from None
    stills = []
    for number, line in enumerate(text.split("\n"), start=1):
        if line.strip():
            try:
                stills.append(DrawnStill.model_validate_json(line))
            except ValidationError as error:
                words = _first_problem(error)
                raise RecordError(f"{path} line {number}: {words}; repair it or move the file away") from None
    return tuple(stills)


def write_drawings(results: Path, stills: Sequence[DrawnStill]) -> None:
    """Keep them, in order of clips and times; the file goes where none is left. Raises RecordError if it cannot."""
    kept = sorted(stills, key=lambda each: (each.clip, each.time_s))
    if kept:
        write_atomic(results / NAME, "".join(each.model_dump_json() + "\n" for each in kept))
    else:
        remove(results / NAME)


def drawings_version(results: Path) -> str:
    """Changes whenever the file does: 16 hex digits. Raises RecordError if it cannot be read."""
    path = results / NAME
    try:
        data = read_plain(path) if path.exists() else b""
    except OSError as error:
        raise RecordError(f"{path} cannot be read ({error}); repair it or move it away") from None
    return hashlib.sha256(data).hexdigest()[:16]


def number_of(still: DrawnStill, swings: Sequence[Swing]) -> int | None:
    """The number, from 1, of the swing that a still shows; None where there is none any more.

    Times tell first: after measuring again a swing may have another id, its contact is still where it was.
    """
    of_clip = [(number, swing) for number, swing in enumerate(swings, start=1) if swing.clip == still.clip]
    near = [(abs(swing.contact_s - still.time_s), number) for number, swing in of_clip if swing.contact_s is not None]
    off_s, nearest = min(near, default=(NEAR_S, 0))
    if off_s < NEAR_S:
        return nearest
    same = (number for number, swing in of_clip if swing.swing == still.swing and swing.contact_s is None)
    return next(same, None)


def _first_problem(error: ValidationError) -> str:
    problem = error.errors(include_url=False)[0]
    place = " ".join(str(part + 1) if isinstance(part, int) else part for part in problem["loc"])
    words = problem["msg"].removeprefix("Value error, ").splitlines()[0]
    field = DrawnStill.model_fields.get(str(problem["loc"][0])) if problem["loc"] else None
    about = f" ({field.description})" if field is not None else ""
    return f"{place + ': ' if place else ''}{words[:1].lower()}{words[1:]}{about}"
