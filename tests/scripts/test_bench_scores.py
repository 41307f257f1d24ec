"""The benchmark's arithmetic, on swings and tracks made by hand."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bench.detection import Sightings, UsedRows, no_sightings, read_used, sightings, together
from bench.limit import NO_LIMIT, SwingLimit
from bench.plots import draw_plots
from bench.quantity import QUANTITIES, errors, nothing, stated_sds, true_values, values
from bench.report import report
from bench.result_file import as_json, read_result, this_run
from bench.run import match, status_faults
from bench.summary import coverage, coverage_range, found_by, groups, measurable, ratio, summarise, verdicts, wrong
from bench.swing_score import LessonScore, SwingScore
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
    pts, each = np.arange(count) / 60.0, np.ones(count)
    phase = np.where(np.arange(count) < count // 2, "pitch", "flight")
    centre = np.stack([100.0 + 10.0 * np.arange(count), np.full(count, 50.0)], axis=1)
    return TruthRows(
        pts, pts + 0.001, centre, 10.0 * each, each, np.ones(count, dtype=np.bool_), 5.0 * each, 30.0 * each, phase
    )  # fmt: skip


def truth(outcome: str = "hit") -> TruthSwing:
    fields = {
        "exit_speed_mps": 31.2928, "launch_deg": 12.0, "spray_deg": -20.0, "contact_depth_m": 0.1182,
        "contact_m": [0.0, 0.55, 0.9], "carry_m": 60.0, "tail_m": 1.0,
    }  # fmt: skip
    return TruthSwing("clips/01-tee/a.mp4", "tee", outcome, 0.8, fields, rows())


def scored(error: float, sd: float = 1.0, limit: float = 0.5) -> SwingScore:
    """A measured hit all of whose numbers are off by ``error``."""
    each = np.ones(len(QUANTITIES))
    return SwingScore(
        lesson=1,
        clip="clips/01-tee/a.mp4",
        delivery="tee",
        true_outcome="hit",
        outcome="measured",
        reason="",
        made_up=(),
        true=70.0 * each,
        error=error * each,
        sd=sd * each,
        limit=SwingLimit(limit * each, 2 * limit * each, 9),
        sightings=no_sightings(),
    )


def no_hit(kind: str, *made_up: str) -> SwingScore:
    outcome = "measured" if made_up else "no_contact"
    return replace(
        scored(0.0), true_outcome=kind, outcome=outcome, made_up=made_up, true=nothing(), error=nothing(),
        sd=nothing(), limit=NO_LIMIT,
    )  # fmt: skip


def lost() -> SwingScore:
    return replace(scored(0.0), outcome="not_measured", reason="seen in 2 frames", error=nothing(), sd=nothing())


def lesson(*swings: SwingScore, number: int = 1, difficulties: tuple[str, ...] = ()) -> LessonScore:
    tags = {"phone": "side-on", "frame rate": f"{30 * number} frames/s"}
    there = tuple(replace(swing, lesson=number) for swing in swings)
    return LessonScore(number, "side-on, 60/s", tags, difficulties, there, (), 1.0, 2.0)


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


@pytest.mark.parametrize("kind", ["miss", "foul_tip", "checked"])
def test_what_is_no_hit_and_has_numbers_is_made_up_whatever_else_is_said(kind: str) -> None:
    assert match(truth(kind), [MISS, HIT]) == (HIT, [HIT])
    assert match(truth(kind), [MISS]) == (MISS, [])


@pytest.mark.parametrize(
    ("status", "found", "faults"),
    [(0, [HIT, MISS], 0), (3, [HIT, LOST], 0), (4, [LOST], 0), (4, [], 0), (0, [LOST], 1), (3, [HIT], 1)],
)
def test_an_exit_status_must_agree_with_the_records(status: int, found: list[Swing], faults: int) -> None:
    assert len(status_faults(status, found)) == faults


def test_frames_are_right_within_a_pixel_and_a_half_and_a_tenth_of_the_ball() -> None:
    # The rows 4 to 7 fly. Used: the row 3 (a pitch), 4 exactly, 5 off by 2 px (within 2.5), 6 off by 3 px.
    used = UsedRows(
        np.array([3, 4, 5, 6]) / 60.0, np.array([[130.0, 50.0], [140.0, 50.0], [150.0, 52.0], [160.0, 53.0]])
    )
    seen = sightings(rows(), used, 1 / 60)
    assert (seen.sought.sum(), seen.used.sum(), seen.right.sum(), seen.stray) == (4, 3, 2, 1)
    assert seen.blur == pytest.approx([0.5] * 4)  # 5 px of streak over 10 px
    nobody = sightings(rows(), UsedRows(np.zeros(0), np.zeros((0, 2))), 1 / 60)
    both = together([seen, nobody])
    assert (both.sought.sum(), both.used.sum(), both.right.sum(), both.stray) == (8, 3, 2, 1)


def test_frames_are_told_apart_by_size_blur_and_contrast() -> None:
    some = Sightings(
        diameter_px=np.array([5.0, 5.0, 30.0]), blur=np.array([0.1, 4.0, 4.0]), contrast=np.array([-50.0, 5.0, 50.0]),
        sought=np.ones(3, dtype=np.bool_), error_px=np.array([0.2, np.nan, 4.0]), stray=2,
    )  # fmt: skip
    swings = [replace(scored(0.0), sightings=some)]
    small, large = found_by("diameter", swings)
    assert (small.name, small.sought, small.found) == ("4 to 6", 2, 1)
    assert small.median_px == pytest.approx(0.2)
    assert (large.name, large.sought, large.found, large.right) == ("22 and more", 1, 1, 1)  # 4 px of 1.5 + 3
    sharp, streak = found_by("blur", swings)
    assert (sharp.sought, sharp.found, streak.sought, streak.found) == (1, 1, 2, 1)
    faint, plain = found_by("contrast", swings)  # darker than what is behind it counts as much as brighter
    assert (faint.sought, faint.found, plain.sought, plain.found) == (1, 0, 2, 2)


def test_true_and_found_rows_of_one_frame_meet_at_its_timestamp(tmp_path: Path) -> None:
    # Row 540 of 1080 is read half the readout after the timestamp; truth is half the exposure later still.
    scene = {"veil": "none", "venue": "field"}
    camera = {"size_px": [1920, 1080], "exposure_s": 0.002, "readout_s": 0.010, "scene": scene}
    true, found = tmp_path / "true.csv", tmp_path / "found.csv"
    true.write_text(
        "time_s,u_px,v_px,diameter_px,visible,streak_px,contrast,phase\n1.006,5,540,12,1,6,40,flight\n"
    )  # fmt: skip
    found.write_text(
        "swing,time_s,u_px,v_px,diameter_px,used,source,reason\na,1.004,5,540,12,1,motion,\na,1.02,,,,0,motion,gone\n"
    )
    read = read_rows(true, camera)
    assert read.pts_s == pytest.approx([1.0])
    assert (read.blur[0], read.contrast[0]) == (0.5, 40.0)
    assert read_rows(true, camera | {"scene": scene | {"veil": "netting"}}).least_visible < read.least_visible
    assert not read.inside.any()  # 5 px from the edge, with a radius of 6
    assert read_used(found, 0.008, 1080).pts_s == pytest.approx([1.0])
    assert len(read_used(tmp_path / "none.csv", 0.0, 1080).pts_s) == 0


def test_median_nine_in_ten_and_bias_are_those_done_by_hand() -> None:
    # Errors 1, -2, 3, -4, 5 (of five hits; a sixth is lost): mean 0.6, median of the sizes 3; nine in ten lies at
    # 0.9 x 4 = 3.6 steps along 1..5, so at 4.6.
    whole = summarise([*(scored(each) for each in (1.0, -2.0, 3.0, -4.0, 5.0)), lost(), no_hit("miss")])
    assert (whole.hits, whole.measured) == (6, 5)
    assert whole.share == pytest.approx(5 / 6)
    assert (whole.bias[0], whole.median[0], whole.nine[0]) == pytest.approx((0.6, 3.0, 4.6))


def test_coverage_counts_the_truth_inside_the_stated_intervals() -> None:
    # Of a normal law 50 in 100 lie within 0.6745 sd, 90 within 1.6449 (tables): of errors of 0.5, 0.6, 1.2 and 2 sd
    # two lie inside the half and three inside the nine tenths.
    swings = [scored(2 * each, sd=2.0) for each in (0.5, -0.6, 1.2, -2.0)]
    whole = summarise(swings)
    assert (whole.within_half[0], whole.within_ninety[0]) == (0.5, 0.75)
    assert coverage(swings, np.array([0.5, 0.9]))[:, 0] == pytest.approx([0.5, 0.75])


def test_honest_sds_hold_half_and_nine_tenths_of_the_truth() -> None:
    # 4000 draws are good to 2 points.
    draws = np.random.default_rng(3).normal(0, 1.7, 4000)
    whole = summarise([scored(float(each), 1.7, limit=1.7) for each in draws])
    assert whole.within_half[0] == pytest.approx(0.5, abs=0.025)
    assert whole.within_ninety[0] == pytest.approx(0.9, abs=0.015)
    assert whole.ratio[0] == pytest.approx(1.0, abs=0.04)  # at the limit
    assert whole.ratio_allowing[0] == pytest.approx(0.5, abs=0.02)


def test_chance_alone_spreads_coverage_as_the_binomial_law_says() -> None:
    # 100 tosses of a coin: 5 % lie below 42 heads and 5 % above 58 (tables of the binomial law).
    assert coverage_range(0.5, 100) == pytest.approx((0.42, 0.58))


def test_the_ratio_is_the_median_of_error_over_limit_and_leaves_out_what_has_no_limit() -> None:
    # 1/2, 3/2 and 4/2: median 1.5; over 0.6745 that is 2.224. A swing without a limit says nothing.
    width = len(QUANTITIES)
    off = np.repeat([[1.0], [3.0], [4.0], [99.0]], width, axis=1)
    limit = np.repeat([[2.0], [2.0], [2.0], [np.nan]], width, axis=1)
    assert ratio(off, limit) == pytest.approx(np.full(width, 2.224), abs=5e-4)


def test_wrong_is_more_than_five_sds_or_fifteen_miles_an_hour() -> None:
    assert not wrong(scored(4.9))
    assert wrong(scored(5.1))
    assert not wrong(scored(14.9, sd=10.0))
    assert wrong(scored(15.1, sd=10.0))
    assert not wrong(lost())


def test_a_hit_could_be_measured_where_its_limit_is_not_too_vague_to_report() -> None:
    # Reported are exit speeds known to 3.4 m/s (7.6 mph), launches to 3 and sprays to 4.5 degrees; twice the limit.
    assert measurable(scored(0.0, limit=1.4))
    assert not measurable(scored(0.0, limit=1.6))
    assert not measurable(replace(scored(0.0), limit=NO_LIMIT))
    assert not measurable(no_hit("miss"))


def test_targets_are_judged_only_by_enough_swings() -> None:
    few = [scored(0.3), scored(-0.4)]
    assert [mark.verdict for mark in verdicts(summarise(few))] == ["not met"] + 6 * ["too few swings"]
    draws = np.random.default_rng(3).normal(0, 1.0, 300)
    many = [scored(float(each), 1.0, limit=0.9) for each in draws]
    assert {mark.verdict for mark in verdicts(summarise(many))} == {"met"}
    vain = [scored(float(each), 0.3, limit=0.3) for each in draws]  # sds and limit a third of the truth
    assert [mark.verdict for mark in verdicts(summarise(vain))] == ["met"] + 6 * ["not met"]


def test_groups_follow_difficulties_and_what_varies() -> None:
    found = groups([lesson(scored(1.0)), lesson(scored(2.0), scored(3.0), number=2, difficulties=("dusk", "music"))])
    assert [(side, name, len(swings)) for side, name, swings in found] == [
        ("lesson", "ordinary", 1),
        ("lesson", "with a difficulty", 2),
        ("difficulty", "dusk", 2),
        ("difficulty", "music", 2),
        ("frame rate", "30 frames/s", 1),
        ("frame rate", "60 frames/s", 2),
    ]


def test_a_result_file_gives_back_the_report_and_holds_no_paths(tmp_path: Path) -> None:
    seen = Sightings(
        diameter_px=np.array([5.0, 12.5]), blur=np.array([0.25, 1.5]), contrast=np.array([40.0, 7.0]),
        sought=np.array([True, False]), error_px=np.array([0.25, np.nan]), stray=1,
    )  # fmt: skip
    run = this_run(7, 3, False)
    lessons = [
        lesson(replace(scored(0.3), sightings=seen), lost()),
        lesson(no_hit("foul_tip", "70 mph"), scored(20.0), number=2, difficulties=("dusk",)),
    ]
    path = tmp_path / "result.json"
    path.write_text(as_json(run, lessons))
    json.loads(path.read_text(), parse_constant=pytest.fail)
    again_run, again = read_result(path)
    assert as_json(again_run, again) == path.read_text()
    page = report(again_run, again)
    assert page == report(run, lessons)
    for words in (
        "2 of 3 planned lessons", "2 of 3 hits were measured", "too few to conclude from", "1 foul tip",
        "False measurements", "1 of 2 measured hits have", "seen in N frames", "--seed 7 --lessons 3",
    ):  # fmt: skip
        assert words in page
    assert str(Path.cwd()) not in path.read_text() + page
    draw_plots(tmp_path / "plots", again)
    assert len(list((tmp_path / "plots").glob("*.svg"))) == 3


def test_nothing_measured_still_reports(tmp_path: Path) -> None:
    lessons = [replace(lesson(lost()), faults=("it ended badly",))]
    assert "lesson 1 (side-on, 60/s): it ended badly" in report(this_run(1, 1, True), lessons).replace(
        "Lesson", "lesson"
    )
    draw_plots(tmp_path, lessons)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.json"
    path.write_text('{"format": 0}')
    with pytest.raises(ValueError, match="format is 0"):
        read_result(path)
    path.write_text("{}")
    with pytest.raises(ValueError, match="not a result of this benchmark"):
        read_result(path)
