"""A swing that the program did not see, told by a person: measured from what is set, and there when run again."""

import shutil
from pathlib import Path

import pytest

from balltrack.batch import Wish, add_swing, correct_swing, drop_swing, kept_result, measure_as
from balltrack.errors import EditConflict, RecordError
from balltrack.lesson import load_lesson
from balltrack.records.corrections import Fix, corrections_version
from balltrack.records.hand import hand_path
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.verdict import verdict_path
from balltrack.units import MPS_PER_MPH
from tests.added import CLIP, SWING, true_rows, truth
from tests.here import Here

SEEN_S = 0.65  # from here on the ball is in sight: it has left what is covered


@pytest.fixture
def folder(sample_without_a_swing: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(sample_without_a_swing, tmp_path / "lesson"))


def seen(folder: Path) -> str:
    return corrections_version(folder / "results", CLIP)


def only(folder: Path) -> Swing:
    (swing,) = read_swings(folder / "results" / "swings.jsonl")
    return swing


def near_the_truth(swing: Swing) -> bool:
    assert swing.outcome == "measured", swing.reason
    # As in test_measure: 4 mph, 1.5 and 2 degrees, and three sd.
    for name, least in (("exit_speed", 4 * MPS_PER_MPH), ("launch", 1.5), ("spray", 2.0)):
        unit = "mps" if name == "exit_speed" else "deg"
        found, sd = getattr(swing, f"{name}_{unit}"), getattr(swing, f"{name}_sd_{unit}")
        if abs(found - truth()[f"{name}_{unit}"]) > least + 3 * sd:
            return False
    return True


def test_a_swing_is_added_measured_from_balls_set_by_hand_and_survives_a_run(folder: Path) -> None:
    results = folder / "results"
    assert read_swings(results / "swings.jsonl") == ()
    contact_s = round(truth()["contact_s"] * 60) / 60  # the nearest frame
    assert add_swing(folder, CLIP, contact_s, seen(folder)) == SWING
    bare = only(folder)
    assert (bare.swing, bare.outcome, bare.by_hand) == (SWING, "not_measured", ("swing added", "contact"))
    assert "set the ball's place in more frames" in bare.reason

    rows = true_rows(SEEN_S, 8)
    (told,) = correct_swing(folder, SWING, Fix(rows, contact_s=contact_s), seen(folder))
    assert told.by_hand == ("swing added", "8 ball positions set", "contact")
    assert told.frames_used == 8
    assert near_the_truth(told)
    files = [results / hand_path(CLIP), results / verdict_path(CLIP)]
    texts = [path.read_text() for path in files]

    measure_as(folder, Wish(run=Here().run))

    assert [path.read_text() for path in files] == texts
    again = only(folder)
    assert (again.swing, again.by_hand) == (SWING, told.by_hand)
    assert near_the_truth(again)
    assert (again.frames_used or 0) >= 8  # the ball was now looked for as well, from the contact that was set


def test_an_added_swing_is_taken_away_with_all_that_was_set_in_it(folder: Path) -> None:
    results = folder / "results"
    name = add_swing(folder, CLIP, 0.5, seen(folder))
    correct_swing(folder, name, Fix(true_rows(SEEN_S, 4), contact_s=0.5, excluded="a test"), seen(folder))
    drop_swing(folder, name, seen(folder))
    assert read_swings(results / "swings.jsonl") == ()
    assert not list(results.rglob("*.hand.*"))
    lesson = load_lesson(folder)
    result = kept_result(lesson.clips[0], lesson, results)
    assert result is not None
    assert result.bases == ()


def test_taking_all_corrections_back_leaves_the_swing_that_was_added(folder: Path) -> None:
    name = add_swing(folder, CLIP, 0.5, seen(folder))
    correct_swing(folder, name, Fix(miss=True), seen(folder))
    assert (only(folder).outcome, only(folder).by_hand) == ("no_contact", ("swing added", "miss"))
    correct_swing(folder, name, Fix(), seen(folder))
    assert (only(folder).outcome, only(folder).by_hand) == ("not_measured", ("swing added",))


def test_two_swings_of_one_clip_are_in_order_of_time_and_each_keeps_its_id(folder: Path) -> None:
    late = add_swing(folder, CLIP, 1.1, seen(folder))
    early = add_swing(folder, CLIP, 0.4, seen(folder))
    assert (late, early) == ("01-tee/covered#1", "01-tee/covered#2")
    swings = read_swings(folder / "results" / "swings.jsonl")
    assert [(swing.swing, swing.contact_s) for swing in swings] == [(early, 0.4), (late, 1.1)]
    drop_swing(folder, late, seen(folder))
    assert only(folder).swing == early


def test_what_cannot_be_added_is_one_line_and_changes_nothing(folder: Path) -> None:
    old = seen(folder)
    add_swing(folder, CLIP, 0.5, old)
    with pytest.raises(EditConflict, match="corrected elsewhere"):
        add_swing(folder, CLIP, 1.1, old)
    with pytest.raises(RecordError, match=r"covered#1 is there already, at 0\.50 s"):
        add_swing(folder, CLIP, 0.7, seen(folder))
    with pytest.raises(RecordError, match="once its clip is measured"):
        add_swing(folder, "clips/01-tee/none.mp4", 0.5, seen(folder))
    toml = folder / "lesson.toml"
    toml.write_text(toml.read_text().replace("base_path_ft = 65", "base_path_ft = 60"))
    with pytest.raises(RecordError, match="measure the lesson again"):
        add_swing(folder, CLIP, 1.1, seen(folder))
    assert only(folder).contact_s == 0.5


def test_a_swing_that_the_program_saw_is_not_taken_away(measured_sample: Path, tmp_path: Path) -> None:
    lesson = Path(shutil.copytree(measured_sample, tmp_path / "lesson"))
    version = corrections_version(lesson / "results", "clips/01-tee/swing-03.mp4")
    with pytest.raises(RecordError, match="seen by the program"):
        drop_swing(lesson, "01-tee/swing-03#1", version)
