"""The coach's words in lesson.toml: when, notes, what to practise. Nothing here changes a number."""

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

# What of lesson.toml is only read by people, or before there are clips: tables, and entries of tables. None stands for
# every name in between.
_TABLES = ("lesson", "swings", "plan", "recording")
_ENTRIES = (("player", "name"), ("blocks", None, "title"), ("blocks", None, "notes"), ("blocks", None, "reps"))


@dataclass(frozen=True, slots=True)
class Drill:
    """One thing to practise."""

    name: str
    repetitions: str  # "3 x 10"; empty where not said
    words: str
    caution: str


@dataclass(frozen=True, slots=True)
class Words:
    """All that the coach said about a lesson, except for the blocks, which carry their own notes."""

    date: datetime.date | None = None
    notes: str = ""
    swing_notes: Mapping[str, str] = field(default_factory=dict)  # by swing id
    plan: str = ""
    drills: tuple[Drill, ...] = ()


def measured_with(values: Mapping[str, Any]) -> bytes:
    """What a lesson.toml says apart from words for people, always in the same order: results depend on this.

    A note, a title or a comment written later leaves results as they are.
    """
    kept = {name: value for name, value in values.items() if name not in _TABLES}
    for path in _ENTRIES:
        kept = _without(kept, path)
    return json.dumps(kept, sort_keys=True, default=str).encode()


def _without(values: Any, path: tuple[str | None, ...]) -> Any:
    """A copy of nested tables without one entry; a table of which nothing is left goes too."""
    if not isinstance(values, dict):
        return values
    head, *rest = path
    kept = {}
    for name, value in values.items():
        if head not in (None, name):
            kept[name] = value
        elif rest and (left := _without(value, tuple(rest))) != {}:
            kept[name] = left
    return kept
