"""lesson.toml and the records against whatever hypothesis thinks of."""

import json
import tomllib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from balltrack.errors import LessonError, RecordError
from balltrack.lesson.lesson_toml import LensTable, LessonTable, TomlFile
from balltrack.lesson.toml_lines import value_lines
from balltrack.names import hides_letters
from balltrack.records.hand import read_hand
from balltrack.records.swing import Swing, from_json, to_json
from balltrack.records.verdict import read_verdicts
from tests.lesson.lessons import GOOD
from tests.records.swings import HIT, LOST, MISS

# Seeds fixed: a run of the tests is the same each time; scripts/fuzz_parsers.py goes on searching.
FIXED = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
NAMES = ("player", "name", "bats", "ball", "kind", "camera", "marks", "point", "pixel", "at_m", "blocks", "x y")
VALUES: st.SearchStrategy[Any] = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(),
    st.text(max_size=20),
    st.dates(),
    st.sampled_from(NAMES),
)
NESTED: st.SearchStrategy[Any] = st.recursive(
    VALUES,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.sampled_from(NAMES), inner, max_size=4)),
)
TABLES = st.dictionaries(st.one_of(st.sampled_from(NAMES), st.text(min_size=1, max_size=8)), NESTED, max_size=6)


def parse(text: bytes, model: type[LessonTable] | type[LensTable] = LessonTable) -> list[str]:
    """Read a text as lesson.toml; the lines that a person is told, none where it is right."""
    try:
        TomlFile(Path("lesson.toml"), text).parse(model)
    except LessonError as error:
        return str(error).split("\n")
    return []


def check_told(lines: list[str]) -> None:
    for line in lines:
        assert not hides_letters(line)
        assert line.startswith("lesson.toml")


@FIXED
@given(TABLES)
def test_any_toml_is_a_lesson_or_one_clear_line_for_each_wrong_entry(values: Mapping[str, Any]) -> None:
    check_told(parse(tomlkit.dumps(values).encode()))


@FIXED
@given(TABLES)
def test_every_line_of_any_toml_is_found_within_it(values: Mapping[str, Any]) -> None:
    text = tomlkit.dumps(values)
    tomllib.loads(text)  # a valid one
    lines = value_lines(text)
    assert set(lines.values()) <= set(range(1, text.count("\n") + 2))
    assert {path[0] for path in lines} == set(values)


@FIXED
@given(
    st.integers(0, len(GOOD)), st.integers(0, len(GOOD)), st.binary(max_size=6) | st.sampled_from([b"[", b'"""', b"{}"])
)
def test_any_stretch_of_a_good_lesson_may_become_anything(start: int, length: int, instead: bytes) -> None:
    data = GOOD.encode()
    check_told(parse(data[:start] + instead + data[start + length % 40 :]))


@FIXED
@given(TABLES)
def test_any_toml_is_a_lens_or_one_clear_line_for_each_wrong_entry(values: Mapping[str, Any]) -> None:
    check_told(parse(tomlkit.dumps(values).encode(), LensTable))


JSON: st.SearchStrategy[Any] = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=10)),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=6), inner, max_size=3)),
)
SAID = st.sampled_from(["swing", "near_s", "contact_s", "miss", "excluded"])
FIELDS = st.sampled_from([each.name for each in fields(Swing)])


@FIXED
@given(st.sampled_from([HIT, LOST, MISS]), st.dictionaries(FIELDS, JSON, min_size=1, max_size=3))
def test_any_value_in_a_record_is_kept_as_it_is_or_refused_in_one_line(swing: Swing, other: dict[str, Any]) -> None:
    line = json.dumps(json.loads(to_json(swing)) | other)
    try:
        found = from_json(line)
    except RecordError as error:
        assert "\n" not in str(error)
    else:
        assert from_json(to_json(found)) == found


@FIXED
@given(JSON)
def test_any_json_is_a_record_or_refused(value: Any) -> None:
    try:
        from_json(json.dumps(value))
    except RecordError:
        pass
    else:
        raise AssertionError("hardly by chance")


@FIXED
@given(st.binary(max_size=60) | st.text(alphabet='0123456789.,e-+"\r\n ', max_size=60).map(str.encode))
def test_any_bytes_are_balls_set_by_hand_or_one_clear_line(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "001.hand.csv"
    path.write_bytes(b"time_s,u_px,v_px,diameter_px\n" + data)
    try:
        rows = read_hand(path)
    except RecordError as error:
        assert not hides_letters(str(error))
    else:
        assert all(row.centre_px is None or row.diameter_px > 0 for row in rows)


@FIXED
@given(JSON | st.fixed_dictionaries({"swings": st.lists(st.dictionaries(SAID, JSON))}))
def test_any_json_is_a_persons_word_or_one_clear_line(tmp_path: Path, value: Any) -> None:
    path = tmp_path / "001.hand.json"
    path.write_text(json.dumps(value), encoding="utf-8")
    try:
        read_verdicts(path)
    except RecordError as error:
        assert not hides_letters(str(error))
