"""The benchmark's arithmetic, on swings and tracks made by hand."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bench.detection import NOTHING, UsedRows, by_size, detection, read_used, together
from bench.floor import Floor
from bench.lessons import lessons
from bench.quantity import QUANTITIES, errors, nothing, stated_sds, true_values, values
from bench.report import report
from bench.result_file import as_json
from bench.run import LessonScore, SwingScore, _status_faults, match
from bench.summary import summarise, verdicts
from bench.truth import TruthRows, TruthSwing, read_rows

from balltrack.records.swing import Swing

MISS = Swing("01-tee/a#1", "clips/01-tee/a.mp4", "01-tee", "no_contact", "0.1.0", "abc")
LOST = replace(MISS, outcome="not_measured", reason="too few frames", contact_s=0.9)
HIT = replace(
    MISS, outcome="measured", contact_s=0.81, exit_speed_mps=31.2928, exit_speed_sd_mps=0.44704, launch_deg=12.0,
    launch_sd_deg=0.5, spray_deg=-20.0, spray_sd_deg=0.25, contact_m=(0.0, 0.55, 0.9), contact_sd_m=(0.01, 0.02, 0.03),
    contact_depth_m=0.1182, carry_m=60.0, carry_sd_m=2.0, tail_m=1.0, tail_sd_m=0.5,
)  # fmt: skip


def rows(count: int = 8) -> TruthRows:
    """A ball that flies 10 px a frame to the right, 60 frames a second, from half the rows on."""
    pts = np.arange(count) / 60.0
    phase = np.where(np.arange(count) < count // 2, "pitch", "flight")
    centre = np.stack([100.0 + 10.0 * np.arange(count), np.full(count, 50.0)], axis=1)
    return TruthRows(
        pts, pts + 0.001, centre, np.full(count, 10.0), np.ones(count), np.ones(count, dtype=np.bool_), phase
    )


def truth(hit: bool = True) -> TruthSwing:
    fields = {
        "exit_speed_mps": 31.2928, "launch_deg": 12.0, "spray_deg": -20.0, "contact_depth_m": 0.1182,
        "contact_m": [0.0, 0.55, 0.9], "carry_m": 60.0, "tail_m": 1.0,
    }  # fmt: skip
    return TruthSwing("clips/01-tee/a.mp4", "tee", hit, 0.8, fields, rows())


def scored(error: float, sd: float = 1.0) -> SwingScore:
    each = np.full(len(QUANTITIES), error)
    least = Floor(each / 2, np.full(len(QUANTITIES), sd), "")
    return SwingScore(
        1,
        "clips/01-tee/a.mp4",
        "tee",
        True,
        "measured",
        "",
        (),
        each,
        np.full(len(QUANTITIES), sd),
        each,
        least,
        NOTHING,
    )


def missed(*made_up: str) -> SwingScore:
    outcome = "measured" if made_up else "no_contact"
    none = Floor(nothing(), nothing(), "no hit")
    return replace(scored(0.0), hit=False, outcome=outcome, made_up=made_up, error=nothing(), sd=nothing(), floor=none)


def test_a_record_equal_to_the_truth_has_no_error_in_a_readers_units() -> None:
    # 31.2928 m/s is 70 mph exactly: a mile is 1609.344 m by the international agreement of 1959.
    assert values(HIT)[0] == pytest.approx(70.0)
    assert np.allclose(errors(values(HIT), true_values(truth())), 0.0)
    assert np.allclose(stated_sds(HIT), [1.0, 0.5, 0.25, 2.0, 3.0, 2.0, 0.5])


def test_directions_differ_the_short_way_round() -> None:
    found, true = np.zeros(len(QUANTITIES)), np.zeros(len(QUANTITIES))
    found[2], true[2] = 179.0, -179.0
    assert errors(found, true)[2] == pytest.approx(-2.0)


def test_a_hit_is_met_by_the_numbers_near_its_contact_and_no_others() -> None:
    far = replace(HIT, contact_s=1.4)
    assert match(truth(), [far, HIT]) == (HIT, [far])
    assert match(truth(), [far, LOST]) == (LOST, [far])
    assert match(truth(), [LOST]) == (LOST, [])
    assert match(truth(), []) == (None, [])


def test_a_miss_with_numbers_is_made_up_whatever_else_is_said() -> None:
    assert match(truth(hit=False), [MISS, HIT]) == (HIT, [HIT])
    assert match(truth(hit=False), [MISS]) == (MISS, [])


@pytest.mark.parametrize(
    ("status", "found", "faults"),
    [(0, [HIT, MISS], 0), (3, [HIT, LOST], 0), (4, [LOST], 0), (4, [], 0), (0, [LOST], 1), (3, [HIT], 1)],
)
def test_an_exit_status_must_agree_with_the_records(status: int, found: list[Swing], faults: int) -> None:
    assert len(_status_faults(status, found)) == faults


def test_frames_are_counted_within_a_pixel_and_a_half_and_a_tenth_of_the_ball() -> None:
    # The rows 4 to 7 fly. Used: the row 3 (a pitch), 4 exactly, 5 off by 2 px (within 2.5), 6 off by 3 px.
    used = UsedRows(
        np.array([3, 4, 5, 6]) / 60.0, np.array([[130.0, 50.0], [140.0, 50.0], [150.0, 52.0], [160.0, 53.0]])
    )
    seen = detection(rows(), used, 1 / 60)
    assert (seen.sought, seen.found, seen.used, seen.right) == (4, 2, 4, 2)
    ((name, among, off_px),) = by_size(seen)
    assert (name, among) == ("8 to 16 px", 3)
    assert off_px == pytest.approx(2.0)
    both = together([seen, detection(rows(), UsedRows(np.zeros(0), np.zeros((0, 2))), 1 / 60)])
    assert (both.sought, both.found, both.used, both.right) == (8, 2, 4, 2)


def test_true_and_found_rows_of_one_frame_meet_at_its_timestamp(tmp_path: Path) -> None:
    # Row 540 of 1080 is read half the readout after the timestamp; truth is half the exposure later still.
    camera = {"size_px": [1920, 1080], "exposure_s": 0.002, "readout_s": 0.010}
    true, found = tmp_path / "true.csv", tmp_path / "found.csv"
    true.write_text("time_s,u_px,v_px,diameter_px,visible,streak_px,phase\n1.006,5,540,12,1,0,flight\n")
    found.write_text(
        "swing,time_s,u_px,v_px,diameter_px,used,source,reason\na,1.004,5,540,12,1,motion,\na,1.02,,,,0,motion,gone\n"
    )
    read = read_rows(true, camera)
    assert read.pts_s == pytest.approx([1.0])
    assert not read.inside.any()  # 5 px from the edge, with a radius of 6
    assert read_used(found, 0.008, 1080).pts_s == pytest.approx([1.0])
    assert len(read_used(tmp_path / "none.csv", 0.0, 1080).pts_s) == 0


def test_honest_sds_hold_half_and_nine_tenths_of_the_truth() -> None:
    # 50 and 90 of 100 draws of a normal law lie within 0.6745 and 1.6449 sd; 4000 draws are good to 2 points.
    draws = np.random.default_rng(3).normal(0, 1.7, 4000)
    whole = summarise([scored(float(each), 1.7) for each in draws])
    assert whole.within_half[0] == pytest.approx(0.5, abs=0.025)
    assert whole.within_ninety[0] == pytest.approx(0.9, abs=0.015)
    assert whole.ratio[0] == pytest.approx(2.0)


def test_targets_are_met_by_small_errors_and_missed_by_one_made_up_number() -> None:
    swings = [scored(0.3), scored(-0.4), scored(0.5), missed()]
    assert all(mark.met for mark in verdicts(summarise(swings), 0))
    assert [mark.met for mark in verdicts(summarise([*swings, missed("70 mph")]), 1)] == [
        True,
        True,
        True,
        True,
        False,
        False,
    ]
    lost = replace(scored(0.0), outcome="not_measured", error=nothing(), sd=nothing())
    assert not verdicts(summarise([*swings, lost]), 0)[0].met  # three of four


def test_nothing_measured_meets_no_target_and_still_prints() -> None:
    lost = replace(scored(0.0), outcome="not_measured", reason="dark", error=nothing(), sd=nothing())
    whole = summarise([lost])
    assert not any(mark.met for mark in verdicts(whole, 0)[:4])
    lesson = LessonScore(lessons(1, 1)[0], (lost,), ("it ended badly",), 1.0, 2.0)
    words = report([lesson], verdicts(whole, 1))
    assert "clips/01-tee/a.mp4 not_measured: dark" in words
    assert "lesson 1: it ended badly" in words


def test_the_file_is_plain_json_without_paths() -> None:
    swings = (scored(0.3), missed("70 mph"))
    lesson = LessonScore(lessons(1, 1)[0], swings, (), 1.0, 2.0)
    text = as_json(1, [lesson], verdicts(summarise(swings), 0))
    read = json.loads(text, parse_constant=pytest.fail)
    assert read["seed"] == 1
    assert read["swings"][0]["error"][0] == pytest.approx(0.3)
    assert read["swings"][1]["error"][0] is None
    assert str(Path.cwd()) not in text
