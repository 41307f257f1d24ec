"""What a lesson teaches: its used track rows and a person's corrections, each about its own frame of the clip."""

from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from balltrack.errors import RecordError
from balltrack.training.taught import taught_swings
from tests.training.lessons import measured_lesson, true_flight

NAME = "01-tee/swing-01"
HEAD = "time_s,u_px,v_px,diameter_px\n"
FRAME_S = 1 / 60  # sample_clips/README.md: 60 frames a second


def corrected(folder: Path, rows: str) -> Path:
    lesson = measured_lesson(folder / "my_lesson", (NAME,))
    (lesson / "results" / "tracks" / f"{NAME}.hand.csv").write_text(HEAD + rows)
    return lesson


def test_each_used_row_is_about_the_frame_whose_rows_were_exposed_then(tmp_path: Path) -> None:
    (swing,) = taught_swings(measured_lesson(tmp_path / "my_lesson", (NAME,)))
    truth = true_flight(NAME)
    assert swing.name == "my_lesson/01-tee/swing-01#1"
    assert swing.positions == len(truth) > 20
    # Frames of the sample lie 1/60 s apart; a microsecond is what the files are rounded to.
    frames = np.array([place.time_s for place in swing.places]) / FRAME_S
    assert frames - frames[0] == approx(np.rint(frames - frames[0]), abs=1e-3)
    for place, ball in zip(swing.places, truth, strict=True):
        assert place.centre_px == approx(np.array([ball.u_px, ball.v_px]), abs=0.001)


def test_velocity_is_that_of_the_neighbouring_places(tmp_path: Path) -> None:
    (swing,) = taught_swings(measured_lesson(tmp_path / "my_lesson", (NAME,)))
    first, second, third = true_flight(NAME)[:3]
    # By hand: way from the row before to the row after over the time between their exposures.
    assert swing.places[1].velocity_pxps[0] == approx(
        (third.u_px - first.u_px) / (third.time_s - first.time_s), rel=1e-3
    )
    assert swing.places[0].velocity_pxps[1] == approx(
        (second.v_px - first.v_px) / (second.time_s - first.time_s), rel=1e-3
    )


def test_a_person_goes_before_the_program(tmp_path: Path) -> None:
    moved, gone = true_flight(NAME)[3:5]
    rows = f"{moved.frame_s:.6f},{moved.u_px + 30:.1f},{moved.v_px:.1f},15\n{gone.frame_s:.6f},,,\n"
    (swing,) = taught_swings(corrected(tmp_path, rows))
    assert len(swing.places) == len(true_flight(NAME))
    by_hand = [place for place in swing.places if place.hand_line is not None]
    assert [place.hand_line for place in by_hand] == [2, 3]
    assert by_hand[0].centre_px == approx(np.array([moved.u_px + 30, moved.v_px]), abs=0.06)
    assert by_hand[1].centre_px is None
    assert by_hand[1].doubted_px == approx(np.array([gone.u_px, gone.v_px]), abs=0.001)


def test_corrections_of_a_clip_without_a_swing_count_too(tmp_path: Path) -> None:
    lesson = corrected(tmp_path, "0.5,100,100,9\n0.516667,,,\n")
    (lesson / "results" / "swings.jsonl").unlink()
    (swing,) = taught_swings(lesson)
    assert (swing.name, swing.positions, len(swing.places)) == ("my_lesson/01-tee/swing-01#0", 1, 2)
    assert swing.places[0].velocity_pxps == (0.0, 0.0)


def test_a_swing_that_was_not_measured_teaches_nothing(tmp_path: Path) -> None:
    lesson = measured_lesson(tmp_path / "my_lesson", (NAME,))
    (lesson / "results" / "swings.jsonl").unlink()
    assert taught_swings(lesson) == []


def test_a_place_outside_the_picture_is_one_line_with_its_number(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=r"hand\.csv line 2: 2000, 100 is outside the picture of 1920 x 1080"):
        taught_swings(corrected(tmp_path, "0.5,2000,100,9\n"))


@pytest.mark.parametrize("spoilt", ["tracks/01-tee/swing-01.csv", "camera.json"])
def test_results_that_cannot_be_read_say_to_measure_again(tmp_path: Path, spoilt: str) -> None:
    lesson = measured_lesson(tmp_path / "my_lesson", (NAME,))
    (lesson / "results" / spoilt).write_text("swing,used\n01-tee/swing-01#1,1\n")
    with pytest.raises(RecordError, match="measure the lesson again") as caught:
        taught_swings(lesson)
    assert "\n" not in str(caught.value)
