"""From a person's correction to the record: at once, the same when measured again, and taken back without a trace.

The lesson is two clips of the sample lesson; truth comes from the renderer, which shares no projection and no flight
with the package.
"""

import csv
import json
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.batch import Wish, correct_swing, kept_result, measure_as, refresh_results
from balltrack.errors import EditConflict, RecordError
from balltrack.flight.evidence import Setting
from balltrack.lesson import load_lesson
from balltrack.records.alone import alone
from balltrack.records.corrections import Fix, corrections_version
from balltrack.records.describe import unmeasured
from balltrack.records.hand import HandRow, hand_path
from balltrack.records.refit import Basis, Ground, frame_times_s, settle
from balltrack.records.store import read_swings
from balltrack.records.swing import MEASURED_FIELDS, Swing
from balltrack.records.verdict import verdict_path
from balltrack.review.page import block_rows
from balltrack.review.spray_chart import spots_of
from balltrack.track.ball import NO_TRACK
from balltrack.training.taught import taught_swings
from balltrack.units import MPS_PER_MPH
from tests.here import Here

HIT, HIT_CLIP = "01-tee/swing-03#1", "clips/01-tee/swing-03.mp4"
OTHER, OTHER_CLIP = "02-toss/swing-05#1", "clips/02-toss/swing-05.mp4"
SAMPLE = Path(__file__).parents[1] / "sample_clips"


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


def basis_of(folder: Path, clip: str) -> Basis:
    lesson = load_lesson(folder)
    (found,) = (each for each in lesson.clips if each.name == clip)
    result = kept_result(found, lesson, folder / "results")
    assert result is not None
    return result.bases[0]


def moved_row(basis: Basis, row: int, right_px: float) -> HandRow:
    """A used row of a track, set by hand to the right of where it was found."""
    k = int(np.flatnonzero(basis.track.used)[row])
    u, v = (float(place) for place in basis.track.centre_px[k])
    time_s = float(frame_times_s(basis.track, basis.camera)[k])
    return HandRow(0, round(time_s, 6), (u + right_px, v), float(basis.track.diameter_px[k]))


def taken_out(basis: Basis, row: int) -> HandRow:
    return replace(moved_row(basis, row, 0.0), centre_px=None, diameter_px=math.nan)


def correct(folder: Path, swing: str, fix: Fix) -> Swing:
    clip = f"clips/{swing.split('#')[0]}.mp4"
    swings = correct_swing(folder, swing, fix, corrections_version(folder / "results", clip))
    assert swings == read_swings(folder / "results" / "swings.jsonl")
    return next(each for each in swings if each.swing == swing)


def recorded(folder: Path, swing: str) -> Swing:
    return next(each for each in read_swings(folder / "results" / "swings.jsonl") if each.swing == swing)


def test_a_ball_dragged_by_30_pixels_changes_the_record_and_taking_it_back_restores_it(folder: Path) -> None:
    results = folder / "results"
    before, track = recorded(folder, HIT), (results / "tracks/01-tee/swing-03.csv").read_text()
    dragged = correct(folder, HIT, Fix((moved_row(basis_of(folder, HIT_CLIP), 5, 30.0),)))
    assert dragged.by_hand == ("1 ball position set",)
    # Thirty pixels are fifty times what balls are found to: the flight that the others show cannot pass there.
    assert dragged.frames_used == (before.frames_used or 0) - 1
    assert any("1 ball position set by hand lies off the flight" in warning for warning in dragged.warnings)
    assert dragged.exit_speed_mps != before.exit_speed_mps
    rows = list(csv.DictReader((results / "tracks/01-tee/swing-03.csv").read_text().splitlines()))
    assert [row["source"] for row in rows if row["reason"] == "off the flight"] == ["hand"]
    assert sum(row["reason"] == "put right by hand" for row in rows) == 1

    assert correct(folder, HIT, Fix()) == before
    assert (results / "tracks/01-tee/swing-03.csv").read_text() == track
    assert not (results / hand_path(HIT_CLIP)).exists()


def test_measuring_again_keeps_the_corrections_and_gives_what_the_person_saw(folder: Path) -> None:
    results, basis = folder / "results", basis_of(folder, HIT_CLIP)
    (folder / OTHER_CLIP).unlink()  # one clip is measured sooner
    rows = (moved_row(basis, 3, 2.0), moved_row(basis, 7, -1.0), taken_out(basis, 9))
    seen = correct(folder, HIT, Fix(rows, contact_s=basis.seen_s - 0.01, excluded="a bunt"))
    assert seen.by_hand == ("2 ball positions set", "1 ball position taken out", "contact", "excluded")
    files = [results / hand_path(HIT_CLIP), results / verdict_path(HIT_CLIP)]
    texts = [path.read_text() for path in files]

    measure_as(folder, Wish(run=Here().run))

    assert [path.read_text() for path in files] == texts
    again = recorded(folder, HIT)
    assert again.by_hand == seen.by_hand
    for name in (*MEASURED_FIELDS, "contact_s", "carry_m", "frames_used"):
        # The same computation from the same numbers: nothing but rounding may differ.
        assert getattr(again, name) == pytest.approx(getattr(seen, name), rel=1e-9), name
    assert again.excluded == "a bunt"


def test_a_swing_that_was_left_out_stays_in_the_records_but_leaves_chart_and_summary(folder: Path) -> None:
    before = recorded(folder, HIT)
    out = correct(folder, HIT, Fix(excluded="a ball of the pitching machine"))
    assert replace(out, excluded="", by_hand=()) == before
    swings = read_swings(folder / "results" / "swings.jsonl")
    total = block_rows(load_lesson(folder), swings, "us")[0]
    assert (total.swings.words, total.measured.words, total.excluded.words) == ("1", "1", "1")
    assert [spot.number for spot in spots_of(swings, "us")] == [2]
    assert "a ball of the pitching machine" in (folder / "results" / "swings.csv").read_text(encoding="utf-8-sig")
    refresh_results(folder)
    assert "Left out by hand: a ball of the pitching machine" in (
        folder / "results" / "review" / "index.html"
    ).read_text(encoding="utf-8")


def test_a_miss_that_a_person_saw_is_a_miss_and_says_who_said_so(folder: Path) -> None:
    missed = correct(folder, HIT, Fix(miss=True))
    assert (missed.outcome, missed.by_hand, missed.exit_speed_mps) == ("no_contact", ("miss",), None)
    assert "a person" in missed.reason
    assert correct(folder, HIT, Fix()).outcome == "measured"


def truth_rows(basis: Basis, count: int) -> tuple[HandRow, ...]:
    """Every third frame of the sample's true flight, to the whole pixel, as a person would set it."""
    half_s = json.loads((SAMPLE / "truth" / "camera.json").read_text())["exposure_s"] / 2
    with (SAMPLE / "truth" / "tracks" / "01-tee" / "swing-03.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["phase"] == "flight" and float(row["visible"]) > 0.99]
    found = []
    for row in rows[: 3 * count : 3]:
        u, v, width = (float(row[name]) for name in ("u_px", "v_px", "diameter_px"))
        time_s = float(row["time_s"]) - half_s - basis.camera.readout_s * v / basis.camera.size_px[1]
        found.append(HandRow(0, time_s, (float(round(u)), float(round(v))), float(round(width))))
    return tuple(found)


def lost(basis: Basis) -> Basis:
    """The same swing as if the program had not found the ball."""
    return replace(basis, track=NO_TRACK, fit=None, ballless=unmeasured(basis.label, False, "the ball was not found"))


def ground_of(folder: Path, basis: Basis) -> Ground:
    lesson = load_lesson(folder)
    return Ground(Setting(basis.camera, lesson.ball, lesson.air), lesson.fence, lesson.player.bats)


def test_a_ball_that_only_the_person_saw_is_measured_from_six_places_near_its_truth(folder: Path) -> None:
    basis = basis_of(folder, HIT_CLIP)
    swing = settle(lost(basis), Fix(truth_rows(basis, 6)), ground_of(folder, basis)).swing
    lines = [json.loads(line) for line in (SAMPLE / "truth" / "swings.jsonl").read_text().splitlines()]
    (truth,) = [line for line in lines if line["clip"] == "01-tee/swing-03.mp4"]
    assert swing.outcome == "measured", swing.reason
    assert swing.by_hand == ("6 ball positions set",)
    for name, least in (("exit_speed", 4 * MPS_PER_MPH), ("launch", 1.5), ("spray", 2.0)):  # as in test_measure
        unit = "mps" if name == "exit_speed" else "deg"
        found, sd = getattr(swing, f"{name}_{unit}"), getattr(swing, f"{name}_sd_{unit}")
        assert abs(found - truth[f"{name}_{unit}"]) < least + 3 * sd


def test_two_places_are_too_few_and_the_record_says_what_to_do(folder: Path) -> None:
    basis = basis_of(folder, HIT_CLIP)
    swing = settle(lost(basis), Fix(truth_rows(basis, 2)), ground_of(folder, basis)).swing
    assert (swing.outcome, swing.exit_speed_mps) == ("not_measured", None)
    assert "2 ball positions to measure from, at least 3 are needed" in swing.reason
    contact = settle(lost(basis), Fix(contact_s=basis.seen_s), ground_of(folder, basis)).swing
    assert "measure again: it is then looked for from the contact" in contact.reason


def test_a_contact_set_by_hand_goes_before_what_was_heard(folder: Path) -> None:
    basis = basis_of(folder, HIT_CLIP)
    for contact_s in (basis.seen_s - 0.02, basis.seen_s + 0.02):
        settled = settle(basis, Fix(contact_s=contact_s), ground_of(folder, basis))
        assert settled.flight is not None
        assert settled.flight.contact.time_s == contact_s
        # A frame of 1/60 s, anywhere within it: 4.8 ms, by the variance of a uniform distribution; exposure adds 2 ms.
        assert settled.flight.contact.time_sd_s == pytest.approx(0.0052, abs=0.0002)
        assert settled.swing.by_hand == ("contact",)


def test_what_was_changed_elsewhere_is_not_overwritten(folder: Path) -> None:
    results, basis = folder / "results", basis_of(folder, HIT_CLIP)
    seen = corrections_version(results, HIT_CLIP)
    correct_swing(folder, HIT, Fix((moved_row(basis, 3, 2.0),)), seen)
    text = (results / hand_path(HIT_CLIP)).read_text()
    with pytest.raises(EditConflict, match="corrected elsewhere"):
        correct_swing(folder, HIT, Fix(miss=True), seen)
    assert (results / hand_path(HIT_CLIP)).read_text() == text
    assert recorded(folder, HIT).by_hand == ("1 ball position set",)


def test_while_the_lesson_is_measured_nothing_is_corrected(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("balltrack.batch.correction.MOST_WAIT_S", 0.0)
    with alone(folder / "results"), pytest.raises(RecordError, match="being measured just now"):
        correct(folder, HIT, Fix(miss=True))
    assert correct(folder, HIT, Fix(miss=True)).by_hand == ("miss",)


def test_after_a_change_of_the_lesson_the_person_is_told_to_measure_again(folder: Path) -> None:
    toml = folder / "lesson.toml"
    toml.write_text(toml.read_text().replace("base_path_ft = 65", "base_path_ft = 60"))
    with pytest.raises(RecordError, match="measure the lesson again"):
        correct(folder, HIT, Fix(miss=True))
    assert not (folder / "results" / verdict_path(HIT_CLIP)).exists()


def test_corrections_teach_the_network_what_the_program_had_wrong(folder: Path) -> None:
    basis = basis_of(folder, HIT_CLIP)
    k = int(np.flatnonzero(basis.track.used)[9])
    before = {place.time_s for place in taught_swings(folder)[0].places}
    correct(folder, HIT, Fix((moved_row(basis, 3, 2.0), taken_out(basis, 9))))
    (taught,) = [each for each in taught_swings(folder) if each.name.endswith(HIT)]
    assert len(taught.places) == len(before)  # no frame is told twice
    moved, emptied = (place for place in taught.places if place.hand_line is not None)
    assert moved.centre_px is not None
    assert emptied.centre_px is None
    assert emptied.doubted_px == pytest.approx(basis.track.centre_px[k], abs=0.001)  # as rounded in the track's file
