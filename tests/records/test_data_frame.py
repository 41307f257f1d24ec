"""Swings and tracks as data frames: every number of the record, its unit, and what could not be had."""

import dataclasses
import math
import sys
from dataclasses import replace
from pathlib import Path

import pandas
import pytest

from balltrack.errors import RecordError
from balltrack.records.columns import LISTS, PARTS
from balltrack.records.data_frame import swings_frame, track_frame
from balltrack.records.store import TRACK_COLUMNS, track_path
from balltrack.records.swing import Swing
from tests.records.logbooks import full_swing
from tests.records.swings import HIT, LOST, MISS

ROWS = "\n".join(
    [
        ",".join(TRACK_COLUMNS),
        "01-tee/001#1,0.100000,10.000,20.000,9.000,1,motion,",
        "01-tee/001#2,0.500000,,,,0,,not found",
        "01-tee/001#2,0.516667,30.250,40.000,,1,both,",
    ]
)


def test_every_field_of_the_record_is_in_the_frame() -> None:
    swing = full_swing()
    row = swings_frame([swing]).iloc[0]
    for field in dataclasses.fields(Swing):
        value = getattr(swing, field.name)
        if field.name not in (*PARTS, *LISTS):
            assert row[field.name] == value, field.name
    assert (row["contact_x_m"], row["contact_y_m"], row["contact_z_m"]) == swing.contact_m
    assert (row["contact_x_sd_m"], row["contact_y_sd_m"], row["contact_z_sd_m"]) == swing.contact_sd_m
    assert (row["landing_x_m"], row["landing_y_m"]) == swing.landing_m
    assert (row["pitch_plate_x_m"], row["pitch_plate_z_m"]) == swing.pitch_plate_m
    assert (row["contact_off_pitch_x_sd_m"], row["contact_off_pitch_up_sd_m"]) == swing.contact_off_pitch_sd_m
    assert swing.landing_cov_m2 is not None
    assert row["landing_cov_xy_m2"] == swing.landing_cov_m2[0][1]
    assert row["warnings"] == "few frames; says “caught”; by the fence"


def test_rows_have_the_numbers_that_the_review_prints() -> None:
    frame = swings_frame([MISS, HIT, LOST])
    assert frame.index.tolist() == [1, 2, 3]
    assert frame.index.name == "number"
    assert frame.loc[2, "swing"] == HIT.swing


def test_what_could_not_be_had_is_nan_and_never_zero() -> None:
    frame = swings_frame([MISS, LOST])
    numbers = frame.select_dtypes("number")
    assert len(numbers.columns) > 20
    assert numbers.isna().all().all()
    assert frame["field_side"].isna().all()


def test_a_swing_left_out_keeps_its_row_and_is_marked() -> None:
    frame = swings_frame([HIT, replace(HIT, excluded="a bunt")])
    assert frame["counts"].tolist() == [True, False]
    assert frame["excluded"].tolist() == ["", "a bunt"]


def test_columns_are_of_the_same_kind_with_swings_without_numbers_and_with_none() -> None:
    kinds = swings_frame([full_swing()]).dtypes
    assert swings_frame([MISS]).dtypes.equals(kinds)
    assert swings_frame([]).dtypes.equals(kinds)


def test_every_measured_number_states_its_unit() -> None:
    frame = swings_frame([full_swing()])
    units = frame.attrs["units"]
    assert set(units) == set(frame.select_dtypes("float").columns)
    assert units["exit_speed_sd_mps"] == "m/s"
    assert units["launch_deg"] == "°"
    assert units["landing_cov_xy_m2"] == "m²"
    assert units["residual_px"] == "px"
    assert units["contact_depth_m"] == "m"
    assert units["hang_s"] == "s"


def test_a_block_is_called_by_its_title_and_else_by_its_name() -> None:
    assert swings_frame([HIT], {"01-tee": "Tee, middle"})["block_title"].tolist() == ["Tee, middle"]
    assert swings_frame([HIT])["block_title"].tolist() == ["01-tee"]


def test_a_track_has_the_rows_of_its_swing_alone(tmp_path: Path) -> None:
    frame = track_frame(_tracks(tmp_path, ROWS), HIT)
    assert frame["time_s"].tolist() == [0.5, 0.516667]
    assert frame["used"].tolist() == [False, True]
    assert math.isnan(frame["u_px"][0])
    assert frame["u_px"][1] == 30.25
    assert frame["reason"].tolist() == ["not found", ""]
    assert frame["source"].tolist() == ["", "both"]
    assert frame.attrs["units"]["diameter_px"] == "px"


def test_a_swing_whose_ball_was_never_followed_has_a_track_without_rows(tmp_path: Path) -> None:
    results = _tracks(tmp_path, ROWS)
    assert len(track_frame(results, LOST)) == 0
    assert track_frame(results, LOST).dtypes.equals(track_frame(results, HIT).dtypes)


@pytest.mark.parametrize(
    "text",
    [None, "", "a,b\n1,2", ROWS.replace(",1,both", ",both,1"), ROWS + "\nx,1,2,3,4,5,6,7,8,9"],
)
def test_a_damaged_or_missing_track_is_named_in_one_line(tmp_path: Path, text: str | None) -> None:
    with pytest.raises(RecordError, match=r"001\.csv cannot be read .* measure the lesson again") as caught:
        track_frame(tmp_path if text is None else _tracks(tmp_path, text), HIT)
    assert "\n" not in str(caught.value)


def test_without_pandas_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(RecordError, match=r"pip install 'pandas>=3'"):
        swings_frame([HIT])


def test_too_old_a_pandas_is_told_with_its_version(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pandas, "__version__", "2.3.1")
    with pytest.raises(RecordError, match=r"found 2\.3\.1"):
        swings_frame([HIT])


def _tracks(results: Path, text: str) -> Path:
    path = results / track_path(HIT.clip)
    path.parent.mkdir(parents=True)
    path.write_text(text, encoding="utf-8")
    return results
