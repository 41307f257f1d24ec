"""Only what changed is measured again, and a run that is killed loses nothing but the clips in work."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from soak_lesson import SAMPLE, cut, small_toml, stand_still

from balltrack.batch import LessonOutcome, Wish, measure_as
from balltrack.batch.kept import setup_hash, still_valid
from balltrack.detect.network import load_network
from balltrack.lesson import load_lesson
from balltrack.records.basis_file import basis_path
from balltrack.records.corrections import Corrections, Fix, read_corrections, write_corrections
from balltrack.records.hand import hand_path
from balltrack.records.store import read_swings, track_path
from balltrack.records.verdict import verdict_path
from balltrack.setup import prepare
from tests.here import Here

ROOT = Path(__file__).parents[1]
HIT, STILLS = "clips/01-tee/1.mp4", tuple(f"clips/02-toss/{number}.mp4" for number in range(2, 7))
NO_FILM = "clips/03-live/7.mp4"
ALL = (HIT, *STILLS, NO_FILM)


@pytest.fixture(scope="module")
def entered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small lesson, not measured: a hit, clips in which nobody moves, and a text that is called a clip."""
    folder = tmp_path_factory.mktemp("kept") / "lesson"
    sample = sorted((SAMPLE / "clips").rglob("*.mp4"))
    for name in ALL:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
    cut(sample[0], folder / HIT, 0.0, 0.75)
    for name, clip in zip(STILLS, sample[1:], strict=False):
        stand_still(clip, folder / name)
    (folder / NO_FILM).write_text("The phone was full.\n")
    (folder / "lesson.toml").write_text(small_toml((SAMPLE / "lesson.toml").read_text()))
    return folder


@pytest.fixture(scope="module")
def undisturbed(entered: Path) -> tuple[Path, LessonOutcome]:
    """The same, measured at a stretch, one clip after the other. Work on copies."""
    folder = Path(shutil.copytree(entered, entered.parent / "undisturbed"))
    return folder, measure_as(folder, Wish(workers=1))


@pytest.fixture
def lesson(undisturbed: tuple[Path, LessonOutcome], tmp_path: Path) -> Path:
    return Path(shutil.copytree(undisturbed[0], tmp_path / "lesson"))


def contents(folder: Path) -> dict[str, bytes]:
    """All files of a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def would_be_measured(folder: Path) -> set[str]:
    setup = prepare(load_lesson(folder))
    kept = still_valid(setup.lesson.clips, setup_hash(setup), folder / "results", 2)
    return {clip.name for clip in setup.lesson.clips} - set(kept)


def test_a_second_run_measures_nothing_says_the_same_and_leaves_every_byte_as_it_was(
    lesson: Path, undisturbed: tuple[Path, LessonOutcome]
) -> None:
    first, here = undisturbed[1], Here()
    second = measure_as(lesson, Wish(run=here.run))
    assert here.asked == []
    assert second.kept == len(ALL)
    assert first.kept == 0
    assert first.swings[0].outcome == "measured"
    assert any(NO_FILM in problem for problem in first.problems)
    for said in ("swings", "notes", "problems", "found_by"):
        assert getattr(second, said) == getattr(first, said), said
    assert contents(lesson / "results") == contents(undisturbed[0] / "results")


def test_the_content_of_a_clip_decides_and_neither_its_date_nor_its_size(lesson: Path) -> None:
    touched, altered = lesson / STILLS[0], lesson / STILLS[1]
    os.utime(touched, (0, 0))
    before, data = altered.stat(), bytearray(altered.read_bytes())
    data[-1] ^= 1
    altered.write_bytes(data)
    os.utime(altered, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert would_be_measured(lesson) == {STILLS[1]}


def test_a_correction_by_hand_has_its_own_clip_measured_again(lesson: Path) -> None:
    seen_s = read_swings(lesson / "results" / "swings.jsonl")[0].contact_s
    assert seen_s is not None
    said = Corrections().with_fix([seen_s], 0, Fix(excluded="a ball with a cut"), "01-tee/1#1")
    write_corrections(lesson / "results", HIT, said)
    assert would_be_measured(lesson) == {HIT}


def test_settings_the_network_and_the_first_picture_concern_all_clips_but_words_for_people_none(lesson: Path) -> None:
    toml = (lesson / "lesson.toml").read_text()
    assert "First lesson" in toml
    (lesson / "lesson.toml").write_text(toml.replace("First lesson", "Second lesson"))
    assert would_be_measured(lesson) == set()
    (lesson / "lesson.toml").write_text(toml.replace("base_path_ft = 65", "base_path_ft = 60"))
    assert would_be_measured(lesson) == set(ALL)
    (lesson / "lesson.toml").write_text(toml)
    setup = prepare(load_lesson(lesson))
    assert setup_hash(setup) != setup_hash(replace(setup, network=load_network()))
    assert setup_hash(setup) != setup_hash(replace(setup, still=None))


def test_a_result_that_is_damaged_or_lacks_its_track_is_made_again(lesson: Path) -> None:
    (lesson / "results" / track_path(STILLS[0])).unlink()
    (lesson / "results" / basis_path(STILLS[1])).write_text('{"made": ')
    assert would_be_measured(lesson) == {STILLS[0], STILLS[1]}


def test_a_clip_on_which_the_program_died_is_tried_in_the_next_run_and_again_measures_all(lesson: Path) -> None:
    measure_as(lesson, Wish(run=Here(deadly=STILLS[2]).run, again=True))
    assert would_be_measured(lesson) == {STILLS[2]}
    here = Here()
    outcome = measure_as(lesson, Wish(run=here.run, again=True))
    assert here.asked == list(ALL)
    assert outcome.kept == 0


def test_what_was_found_in_a_clip_that_is_taken_out_goes_with_it_but_a_persons_work_stays(lesson: Path) -> None:
    results = lesson / "results"
    write_corrections(results, NO_FILM, Corrections().with_swing("03-live/7#1", 0.2))
    (results / ".swings.jsonl.a1b2c3d4").write_text("half")  # as a killed run leaves it
    (lesson / NO_FILM).unlink()
    here = Here()
    outcome = measure_as(lesson, Wish(run=here.run))
    assert here.asked == []
    assert {swing.clip for swing in outcome.swings} == {HIT}
    assert read_swings(results / "swings.jsonl") == outcome.swings
    assert not (results / track_path(NO_FILM)).exists()
    assert not (results / basis_path(NO_FILM)).exists()
    assert not list(results.glob(".*"))
    assert not (results / hand_path(NO_FILM)).exists()
    assert (results / verdict_path(NO_FILM)).exists()
    assert read_corrections(results, NO_FILM).verdicts


MEASURE = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # what is started in the background ignores it
from balltrack.cli import main
main()
"""


@pytest.mark.skipif(os.name == "nt", reason="processes are ended in another way there")
def test_a_run_that_was_killed_and_stopped_ends_with_every_byte_of_an_undisturbed_one_by_other_workers(
    entered: Path, undisturbed: tuple[Path, LessonOutcome], tmp_path: Path
) -> None:
    folder, draw = Path(shutil.copytree(entered, tmp_path / "lesson")), random.Random(7)
    done: dict[Path, int] = {}
    for end, clips in ((signal.SIGKILL, draw.randrange(1, 4)), (signal.SIGINT, draw.randrange(4, 6)), (None, 0)):
        run = subprocess.Popen(
            [sys.executable, "-c", MEASURE, "measure", str(folder), "--no-network", "--workers", "3"],
            stdout=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            start_new_session=True,
        )
        while end and run.poll() is None and len(bases(folder)) < max(clips, len(done) + 1):
            time.sleep(0.02)
        if end:
            time.sleep(draw.uniform(0, 0.3))  # anywhere in measuring and writing
            os.killpg(run.pid, end)
        assert run.wait(timeout=300) == {signal.SIGKILL: -9, signal.SIGINT: 130, None: 3}[end]  # 3: one is no film
        assert done.items() <= bases(folder).items()  # nothing that was kept is measured again
        done = bases(folder)
    assert contents(folder / "results") == contents(undisturbed[0] / "results")


def bases(folder: Path) -> dict[Path, int]:
    """The clips that are kept, with the moment at which each was written."""
    return {path: path.stat().st_mtime_ns for path in (folder / "results" / "tracks").rglob("*.basis.json")}
