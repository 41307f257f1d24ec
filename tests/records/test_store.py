"""Results on disk: whole files only, earlier results kept, units in every header."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import RecordError
from balltrack.records.atomic import write_atomic
from balltrack.records.store import TRACK_COLUMNS, ResultStore, read_swings, track_path, tracks_csv
from balltrack.records.swing import Swing
from balltrack.records.table import Units, swings_csv
from balltrack.track.ball import BallTrack

CLIPS = ("clips/01-tee/001.mp4", "clips/01-tee/002.mp4")


def swing(clip: str, speed_mps: float = 44.704) -> Swing:
    return Swing(
        swing=f"{clip[6:-4]}#1",
        clip=clip,
        block="01-tee",
        outcome="measured",
        balltrack_version="0.1.0",
        settings_hash="abc",
        exit_speed_mps=speed_mps,
        exit_speed_sd_mps=0.44704,
        launch_deg=12.34,
        launch_sd_deg=0.5,
        spray_deg=-3.21,
        spray_sd_deg=0.5,
        carry_m=91.44,
        contact_depth_m=0.254,
        fence_clear_probability=0.25,
    )


def track() -> BallTrack:
    return BallTrack(
        time_s=np.array([1.0, 1.0 + 1 / 60]),
        centre_px=np.array([[100.25, 50.5], [np.nan, np.nan]]),
        centre_sd_px=np.full((2, 2), 0.3),
        diameter_px=np.array([9.5, np.nan]),
        diameter_sd_px=np.array([0.4, np.nan]),
        used=np.array([True, False]),
        source=("motion", ""),
        reason=("", "hidden by the batter"),
    )


def test_a_new_run_keeps_earlier_results_until_each_clip_is_done_anew(tmp_path: Path) -> None:
    first = ResultStore(tmp_path, CLIPS)
    for clip in CLIPS:
        first.write_clip(clip, [swing(clip)], [])

    second = ResultStore(tmp_path, CLIPS)
    second.write_clip(CLIPS[1], [swing(CLIPS[1], 20.0)], [])

    kept = read_swings(tmp_path / "swings.jsonl")
    assert [each.exit_speed_mps for each in kept] == [44.704, 20.0]


def test_records_stand_in_the_order_of_the_clips_whichever_was_done_first(tmp_path: Path) -> None:
    store = ResultStore(tmp_path, CLIPS)
    store.write_clip(CLIPS[1], [swing(CLIPS[1])], [])
    store.write_clip(CLIPS[0], [swing(CLIPS[0])], [])
    assert [each.clip for each in read_swings(tmp_path / "swings.jsonl")] == list(CLIPS)


def test_records_of_a_clip_that_left_the_lesson_are_dropped(tmp_path: Path) -> None:
    ResultStore(tmp_path, CLIPS).write_clip(CLIPS[1], [swing(CLIPS[1])], [])
    assert ResultStore(tmp_path, CLIPS[:1]).swings == ()


def test_a_write_that_fails_leaves_the_earlier_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "swings.jsonl"
    write_atomic(target, "earlier")

    def full_disk(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full_disk)
    with pytest.raises(RecordError, match="No space left on device"):
        write_atomic(target, "later")
    assert [path.name for path in tmp_path.iterdir()] == ["swings.jsonl"]
    assert target.read_text() == "earlier"


def test_an_interrupt_while_writing_leaves_the_earlier_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "swings.jsonl"
    write_atomic(target, "earlier")

    def interrupted(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_atomic(target, "later")
    assert [path.name for path in tmp_path.iterdir()] == ["swings.jsonl"]
    assert target.read_text() == "earlier"


def test_a_spoilt_results_file_is_named_with_its_line(tmp_path: Path) -> None:
    store = ResultStore(tmp_path, CLIPS)
    store.write_clip(CLIPS[0], [swing(CLIPS[0])], [])
    path = tmp_path / "swings.jsonl"
    path.write_text(path.read_text() + "{oops\n")
    with pytest.raises(RecordError, match=r"swings\.jsonl line 2"):
        ResultStore(tmp_path, CLIPS)


def test_tracks_have_one_row_a_frame_and_empty_cells_where_no_ball_was() -> None:
    rows = list(csv.reader(tracks_csv([("01-tee/001#1", track())]).splitlines()))
    assert tuple(rows[0]) == TRACK_COLUMNS
    assert rows[1] == ["01-tee/001#1", "1.000000", "100.250", "50.500", "9.500", "1", "motion", ""]
    assert rows[2] == ["01-tee/001#1", "1.016667", "", "", "", "0", "", "hidden by the batter"]


def test_a_lesson_without_a_swing_is_read_back_as_one(tmp_path: Path) -> None:
    ResultStore(tmp_path, [CLIPS[0]]).write_swings({CLIPS[0]: ()})
    assert (tmp_path / "swings.jsonl").exists()
    assert ResultStore(tmp_path, [CLIPS[0]]).swings == ()


def test_the_track_of_a_clip_has_the_clip_s_own_sub_path() -> None:
    assert track_path("clips/01-tee/001.mp4") == Path("tracks/01-tee/001.csv")


@pytest.mark.parametrize(
    ("units", "speed", "carry", "depth"),
    [
        # Exact by definition (international foot, inch, mile): 44.704 m/s = 100 mph = 160.9344 km/h,
        # 91.44 m = 300 ft, 0.254 m = 10 in.
        ("us", ("Exit speed (mph)", "100.0"), ("Carry (ft)", "300.0"), ("Contact ahead of plate front (in)", "10.0")),
        ("metric", ("Exit speed (km/h)", "160.9"), ("Carry (m)", "91.44"), ("Contact ahead of plate front (cm)", "25")),
    ],
)
def test_the_table_is_in_the_reader_s_units_with_the_unit_in_the_header(
    units: Units, speed: tuple[str, str], carry: tuple[str, str], depth: tuple[str, str]
) -> None:
    (row,) = csv.DictReader(swings_csv([swing(CLIPS[0])], units).splitlines())
    assert {speed, carry, depth} <= set(row.items())


def test_every_column_with_a_number_names_its_unit() -> None:
    (row,) = csv.DictReader(swings_csv([swing(CLIPS[0])], "us").splitlines())
    for name, value in row.items():
        if value.replace(".", "").replace("-", "").isdigit():
            assert name.endswith(")"), name


def test_text_that_a_spreadsheet_would_run_is_made_plain() -> None:
    nasty = replace(swing(CLIPS[0]), warnings=("=1+1",))
    (row,) = csv.DictReader(swings_csv([nasty], "us").splitlines())
    assert row["Warnings"] == "'=1+1"
