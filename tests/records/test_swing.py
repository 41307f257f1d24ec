"""The swing record survives its file, and refuses what it must never hold."""

import json
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balltrack.errors import RecordError
from balltrack.records.swing import Swing, from_json, swing_id, to_json
from tests.records.swings import HIT, MISS

finite = st.floats(allow_nan=False, allow_infinity=False)


@given(speed=finite, landing=st.none() | st.tuples(finite, finite), words=st.lists(st.text(), max_size=3))
def test_a_swing_read_back_is_the_swing_written(
    speed: float, landing: tuple[float, float] | None, words: list[str]
) -> None:
    swing = replace(HIT, exit_speed_mps=speed, landing_m=landing, warnings=tuple(words))
    line = to_json(swing)
    assert "\n" not in line
    assert from_json(line) == swing


def test_every_field_of_the_record_is_written_and_missing_numbers_are_null() -> None:
    written = json.loads(to_json(MISS))
    assert list(written) == [each.name for each in fields(Swing)]
    assert written["exit_speed_mps"] is None


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_nan_and_infinity_cannot_enter_a_record(value: float) -> None:
    with pytest.raises(ValueError, match="carry_m"):
        replace(HIT, carry_m=value)
    with pytest.raises(ValueError, match="contact_m"):
        replace(HIT, contact_m=(0.0, value, 0.0))


def test_a_miss_cannot_have_numbers_and_a_hit_cannot_lack_them() -> None:
    with pytest.raises(ValueError, match="no_contact but has exit_speed_mps"):
        replace(HIT, outcome="no_contact")
    with pytest.raises(ValueError, match="lacks exit_speed_mps"):
        replace(MISS, outcome="measured")
    with pytest.raises(ValueError, match="says no reason"):
        replace(MISS, outcome="not_measured")


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("{", "JSON"),
        ("[1]", "not a swing record"),
        ("{}", "missing"),
        (to_json(HIT).replace("30.0", "NaN"), "NaN is no number"),
        (to_json(HIT).replace("30.0", '"fast"'), 'exit_speed_mps = "fast"'),
        (to_json(HIT).replace("30.0", "true"), "exit_speed_mps = true"),
        (to_json(HIT).replace('"measured"', '"perhaps"'), "outcome"),
        (to_json(HIT).replace("[0.1, 0.5, 0.8]", "[0.1, 0.5]"), "contact_m"),
        (to_json(HIT).replace('"hang_s"', '"hang_minutes"'), "unknown field hang_minutes"),
    ],
)
def test_a_line_that_no_balltrack_wrote_is_refused_in_one_line(line: str, word: str) -> None:
    with pytest.raises(RecordError) as caught:
        from_json(line)
    assert word in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_line_of_before_the_shutter_time_was_kept_is_read_without_one() -> None:
    old = json.loads(to_json(HIT))
    del old["exposure_s"]
    assert from_json(json.dumps(old)) == HIT
    assert from_json(to_json(replace(HIT, exposure_s=0.0025))).exposure_s == 0.0025


def test_the_id_of_a_swing_depends_on_its_clip_and_place_only() -> None:
    assert swing_id("clips/01-tee/001.mp4", 2) == "01-tee/001#2"
