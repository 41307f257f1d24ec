"""The form of Set up: which entries of lesson.toml it shows, and what was typed turned into what the file holds."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from balltrack.lesson.edit import Section, Value

Kind = str  # text | number | numbers | choice | whole


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry, and how a person is asked for it."""

    name: str
    label: str
    kind: Kind
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()  # what the file holds, what a person reads

    def shown(self, value: object) -> str:
        """A value of the file as it stands in the form."""
        if value is None:
            return ""
        return ", ".join(f"{each:g}" for each in value) if isinstance(value, list) else str(value)

    def typed(self, text: str) -> Value:
        """What was typed as a value for the file. What cannot be read stays text, for the checks to refuse."""
        text = text.strip()
        if not text:
            return None
        if self.kind == "number":
            return _number(text)
        if self.kind == "whole":
            return int(text) if re.fullmatch(r"\d{1,6}", text) else text
        if self.kind == "numbers":
            numbers = [_number(part) for part in re.split(r"[,;\s]+", text) if part]
            good = [number for number in numbers if not isinstance(number, str)]
            if len(good) < len(numbers):
                return text
            return good[0] if len(good) == 1 else good
        return text


FORM: dict[str, tuple[Entry, ...]] = {
    "player": (
        Entry("name", "Name", "text"),
        Entry("bats", "Bats", "choice", choices=(("right", "right-handed"), ("left", "left-handed"))),
    ),
    "ball": (
        Entry(
            "kind",
            "Ball",
            "choice",
            choices=(
                ("softball-12", "softball, 12 inch"),
                ("softball-11", "softball, 11 inch"),
                ("baseball", "baseball"),
                ("", "another, as measured here:"),
            ),
        ),
        Entry("circumference_in", "Around the ball", "number", "inches"),
        Entry("weight_oz", "Weight", "number", "ounces"),
    ),
    "field": (
        Entry("base_path_ft", "Base to base", "number", "feet"),
        Entry("fence_ft", "Fence", "numbers", "feet; one number, or five from left to right; empty: none"),
        Entry("fence_height_ft", "Fence height", "number", "feet"),
        Entry("pitching_distance_ft", "Plate to pitcher's plate", "number", "feet; empty: as the ball's rules say"),
    ),
    "air": (
        Entry("temperature_c", "Temperature", "number", "°C"),
        Entry("altitude_m", "Above the sea", "number", "metres"),
        Entry("pressure_hpa", "or pressure at the field", "number", "hPa"),
        Entry("humidity_pct", "Humidity", "number", "%"),
        Entry("wind_mps", "Wind", "numbers", "m/s: toward the first-base side, toward second base"),
    ),
}
BLOCK = (
    Entry("title", "Title", "text"),
    Entry(
        "delivery",
        "Delivery",
        "choice",
        choices=(("", "not said"), ("tee", "from a tee"), ("toss", "tossed"), ("live", "pitched")),
    ),
)


def entries_of(section: Section) -> tuple[Entry, ...]:
    """The entries of a section of the form; none where it has no such section."""
    if len(section) == 2 and section[0] == "blocks":
        return BLOCK
    return FORM.get(section[0], ()) if len(section) == 1 else ()


def shown(section: Section, values: Mapping[str, Any]) -> dict[str, str]:
    """The texts of a section's entries as they stand in the form."""
    return {entry.name: entry.shown(values.get(entry.name)) for entry in entries_of(section)}


def typed(section: Section, texts: Mapping[str, str]) -> dict[str, Value]:
    """What was typed into a section's entries, for the file. Unknown names are left out."""
    return {entry.name: entry.typed(texts[entry.name]) for entry in entries_of(section) if entry.name in texts}


def _number(text: str) -> float | int | str:
    """Whole numbers stay whole: 65, not 65.0."""
    if re.fullmatch(r"[+-]?\d{1,9}", text):
        return int(text)
    try:
        return float(text)
    except ValueError:
        return text
