"""Changing single entries of lesson.toml, with the person's comments, order and spelling of all the rest kept."""

import copy
import datetime
import hashlib
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, Table

from balltrack.errors import LessonError
from balltrack.lesson.toml_text import values_in

Value = str | int | float | bool | datetime.date | list[float] | list[int] | None
Section = tuple[str, ...]  # ("player",) or ("blocks", "01-tee")

PLAN: Section = ("plan",)
MARKS: Section = ("camera", "marks")  # the marks and the size of the picture on which they were made


@dataclass(frozen=True, slots=True)
class EditedMark:
    """A mark as it shall stand in the file: a named point, or a place of its own, or (a tee's foot) both."""

    point: str | None
    at_m: tuple[float, float, float] | None
    pixel_px: tuple[float, float]
    sd_px: float | None = None  # of a mark that was measured; None: clicked


def values_of(text: str) -> dict[str, Any]:
    """What a text says. Raises LessonError where it is not TOML."""
    try:
        return values_in(text)
    except tomllib.TOMLDecodeError as error:
        raise LessonError(f"lesson.toml: not valid TOML: {error}; put it right in a text editor first") from None


def version(text: str, section: Section) -> str:
    """Changes whenever a section's values do, and with nothing else: 12 hex digits."""
    values = values_of(text)
    seen: object = _at(values, section)
    if section == MARKS:
        seen = [seen, _at(values, ("camera", "image_size_px"))]
    return hashlib.sha256(json.dumps(seen, sort_keys=True, default=str).encode()).hexdigest()[:12]


def with_values(text: str, section: Section, values: Mapping[str, Value]) -> str:
    """The text with some entries of one table set, or, where None, taken out.

    Raises
    ------
    LessonError
        If the text is not TOML, or is written in a way that cannot be changed safely.
    """
    wanted = copy.deepcopy(values_of(text))
    table: dict[str, Any] = wanted
    for name in section:
        table = table.setdefault(name, {})
    document = _document(text)
    there = _table(document, section)
    for name, value in values.items():
        if value is None:
            table.pop(name, None)
            if name in there:
                del there[name]
        else:
            table[name] = value
            if name not in there or there[name] != value or type(there[name].unwrap()) is not type(value):
                there[name] = _item(value)
    return _checked(document, wanted, section)


def with_drills(text: str, drills: Sequence[Mapping[str, str]]) -> str:
    """The text with these drills and no others; a drill that stays in its place keeps its comments.

    Raises
    ------
    LessonError
        As `with_values`.
    """
    wanted = copy.deepcopy(values_of(text))
    if not drills and "drills" not in wanted.get("plan", {}):
        return text
    plan = wanted.setdefault("plan", {})
    plan["drills"] = [dict(drill) for drill in drills]
    document = _document(text)
    there = _table(document, PLAN)
    if not drills:
        del plan["drills"], there["drills"]
        return _checked(document, wanted, PLAN)
    if "drills" not in there:
        there["drills"] = tomlkit.aot()
    entries = there["drills"]
    for index in reversed(range(len(drills), len(entries))):
        _remove(entries, index)
    for index, drill in enumerate(drills):
        if index < len(entries):
            _set_entries(entries[index], drill)
        else:
            entries.append(_filled(tomlkit.table() if isinstance(entries, AoT) else tomlkit.inline_table(), drill))
    return _checked(document, wanted, PLAN)


def _set_entries(there: Any, values: Mapping[str, str]) -> None:
    """Bring a table to these entries and no others."""
    for name in [name for name in there if name not in values]:
        del there[name]
    for name, value in values.items():
        if name not in there or there[name] != value:
            there[name] = _item(value)


def with_marks(text: str, marks: Sequence[EditedMark], size_px: tuple[int, int]) -> str:
    """The text with these marks and no others. Marks that stay keep their place and their comments.

    Raises
    ------
    LessonError
        As `with_values`.
    """
    wanted = copy.deepcopy(values_of(text))
    camera = wanted.setdefault("camera", {})
    before = camera.get("marks", [])
    wished = {_identity(mark.point, mark.at_m): mark for mark in marks}
    kept = [_moved(entry, wished.pop(_identity(entry.get("point"), entry.get("at_m")), None)) for entry in before]
    camera["marks"] = [entry for entry in kept if entry is not None]
    new = [mark for mark in marks if _identity(mark.point, mark.at_m) in wished]
    camera["marks"] += [_entry(mark) for mark in new]
    camera["image_size_px"] = list(size_px)
    document = _document(text)
    there = _table(document, ("camera",))
    if there.get("image_size_px") != list(size_px):
        there["image_size_px"] = list(size_px)
    _set_marks(there, kept, [_entry(mark) for mark in new])
    if not camera["marks"]:
        del camera["marks"]
    return _checked(document, wanted, MARKS)


def _set_marks(camera: Any, kept: Sequence[dict[str, Any] | None], new: Sequence[dict[str, Any]]) -> None:
    """Bring the entries of ``camera.marks`` to those of ``kept`` (None: goes), then ``new``."""
    if "marks" not in camera:
        camera.add(tomlkit.nl())
        camera["marks"] = tomlkit.aot()
    entries = camera["marks"]
    for index in reversed(range(len(kept))):
        entry = kept[index]
        if entry is None:
            _remove(entries, index)
        else:
            _bring(entries[index], entry)
    for entry in new:
        if isinstance(entries, AoT):
            entries.append(_filled(tomlkit.table(), entry))
        else:  # marks = [{...}, ...]
            entries.append(_filled(tomlkit.inline_table(), entry))
    if not len(entries):
        del camera["marks"]


def _bring(there: Any, entry: Mapping[str, Any]) -> None:
    """Change what a mark moves: its pixel, and how well that is known."""
    if list(there["pixel"]) != entry["pixel"]:
        there["pixel"] = entry["pixel"]
    if "sd_px" not in entry and "sd_px" in there:
        del there["sd_px"]
    elif "sd_px" in entry and there.get("sd_px") != entry["sd_px"]:
        there["sd_px"] = entry["sd_px"]


def _remove(entries: Any, index: int) -> None:
    """Take an entry out. A comment below it stands above the next one's header, and stays."""
    if isinstance(entries, AoT):
        comments = _comments_below(entries[index])
        heir = entries[index - 1] if index else entries[index + 1] if index + 1 < len(entries) else None
        if heir is not None and index:
            for comment in comments:
                heir.add(comment)
        elif heir is not None:
            words = [str(each.trivia.comment).lstrip("# ") for each in comments if isinstance(each, Comment)]
            if words:
                heir.comment("; ".join([*words, *filter(None, [heir.trivia.comment.lstrip("# ")])]))
    del entries[index]


def _comments_below(table: Table) -> list[Any]:
    body = table.value.body
    first = next((i for i in reversed(range(len(body))) if body[i][0] is not None), -1) + 1
    below = [item for _, item in body[first:]]
    return below if any(isinstance(item, Comment) for item in below) else []


def _document(text: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise LessonError(f"lesson.toml: not valid TOML: {error}; put it right in a text editor first") from None


def _table(document: tomlkit.TOMLDocument, section: Section) -> Any:
    """A table of the document, made where it is missing."""
    table: Any = document
    for depth, name in enumerate(section):
        if name not in table:
            leads_on = depth + 1 < len(section)
            if not depth and document.as_string().strip() and not document.as_string().endswith("\n\n"):
                document.add(tomlkit.nl())
            table[name] = tomlkit.table(is_super_table=leads_on)
        table = table[name]
    return table


def _filled(table: Any, entry: Mapping[str, Any]) -> Any:
    for name, value in entry.items():
        table.append(name, _item(value))
    return table


def _item(value: Any) -> Any:
    """A text of several lines is written as such, so that a person can read it in the file."""
    return tomlkit.string(value, multiline=True) if isinstance(value, str) and "\n" in value else value


def _moved(entry: dict[str, Any], mark: EditedMark | None) -> dict[str, Any] | None:
    if mark is None:
        return None
    rest = {name: value for name, value in entry.items() if name != "sd_px"}
    return {**rest, **_seen(mark)}


def _entry(mark: EditedMark) -> dict[str, Any]:
    entry: dict[str, Any] = {} if mark.point is None else {"point": mark.point}
    if mark.at_m is not None:
        entry["at_m"] = list(mark.at_m)
    return {**entry, **_seen(mark)}


def _seen(mark: EditedMark) -> dict[str, Any]:
    pixel = [round(float(mark.pixel_px[0]), 2), round(float(mark.pixel_px[1]), 2)]
    return {"pixel": pixel} if mark.sd_px is None else {"pixel": pixel, "sd_px": round(float(mark.sd_px), 3)}


def _identity(point: object, at_m: Sequence[float] | None) -> tuple[object, ...]:
    return (point, *(float(each) for each in at_m or ()))


def _at(values: object, path: Section) -> object:
    for name in path:
        values = values.get(name) if isinstance(values, dict) else None
    return values


def _checked(document: tomlkit.TOMLDocument, wanted: dict[str, Any], section: Section) -> str:
    """The text, once it is proven to say what is wanted and nothing else."""
    try:
        text = document.as_string()
        said = tomllib.loads(text)
    except (TOMLKitError, tomllib.TOMLDecodeError):
        said = {}
    if said != wanted:
        raise LessonError(
            f"lesson.toml writes {'.'.join(section)} in a way that cannot be changed safely from here; "
            "change it in a text editor"
        )
    return text
