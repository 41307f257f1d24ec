"""The command line: one clear line for each bad input, an exit status that tells all, some or none, and help."""

import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from balltrack.batch import LessonOutcome, measure_lesson
from balltrack.cli import exit_status, main
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.terminal import print_outcome
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, LOST, MISS

ROOT = Path(__file__).parent.parent
SIZED = GOOD.replace("[camera]", "[camera]\nimage_size_px = [1920, 1080]")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> LessonOutcome:
    """A lesson of two clips, both empty files."""
    folder = make_lesson(tmp_path_factory.mktemp("lesson"), SIZED, ("01-tee/001.mp4", "02-toss/[x].mp4"))
    return measure_lesson(folder, workers=1)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (GOOD.replace('"right"', '"up"'), 'lesson.toml line 3: player.bats = "up" is not allowed'),
        (SIZED.split("[[")[0] + '[[camera.marks]]\npoint = "plate_tip"\npixel = [9, 9]\n', "camera marks"),
        (SIZED.replace("[959.5, 939.5]", "[959.5, 1939.5]"), "outside the picture"),
        (GOOD, "001.mp4"),  # an empty file: its size cannot be known
    ],
)
def test_a_wrong_lesson_is_one_line_on_standard_error_and_status_1(tmp_path: Path, text: str, word: str) -> None:
    result = run("measure", str(make_lesson(tmp_path, text)))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert word in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_folder_that_is_not_there_is_one_line_and_status_1(tmp_path: Path) -> None:
    result = run("measure", str(tmp_path / "nowhere"))
    assert result.exit_code == 1
    assert "no such folder" in result.stderr


@pytest.mark.parametrize("name", ["none.onnx", "none.pt", "text.onnx"])
def test_weights_that_are_none_are_one_line_and_status_1(tmp_path: Path, name: str) -> None:
    folder = make_lesson(tmp_path, SIZED)
    (tmp_path / "text.onnx").write_text("not a network")
    result = run("measure", str(folder), "--weights", str(tmp_path / name))
    assert result.exit_code == 1
    assert name in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_weights_and_no_network_contradict_each_other() -> None:
    result = run("measure", ".", "--no-network", "--weights", "ball.onnx")
    assert result.exit_code == 2
    assert "--no-network" in result.stderr


def test_the_terminal_says_what_found_the_ball(outcome: LessonOutcome, capsys: pytest.CaptureFixture[str]) -> None:
    print_outcome(outcome, "us")
    assert "By its motion alone" in capsys.readouterr().out
    found = Counter(both=7, motion=3, network=2)
    print_outcome(replace(outcome, detector="motion, ball.onnx 12345678", found_by=found), "us")
    shown = capsys.readouterr().out
    assert "By motion and the network ball.onnx 12345678" in shown
    assert "of 12 positions used, 7 by both, 3 by motion alone, 2 by the network alone" in shown


def test_the_terminal_says_what_a_person_put_right(outcome: LessonOutcome, capsys: pytest.CaptureFixture[str]) -> None:
    moved = replace(HIT, by_hand=("2 ball positions set",))
    out = replace(HIT, swing="01-tee/001#9", by_hand=("excluded",), excluded="a bunt")
    found = Counter(both=7, motion=3, network=2, hand=2)
    print_outcome(replace(outcome, swings=(moved, out), detector="motion, ball.onnx 12345678", found_by=found), "us")
    shown = capsys.readouterr().out
    for words in ("left out*", f"* {HIT.swing}: 2 ball positions set", "excluded (a bunt)", "of 14", "2 set by hand"):
        assert words in shown


def test_a_wrongly_typed_command_is_status_2() -> None:
    assert run("measure").exit_code == 2
    assert run("measure", ".", "--units", "stone").exit_code == 2


def test_clips_that_cannot_be_read_are_recorded_with_their_reason(outcome: LessonOutcome) -> None:
    kept = read_swings(outcome.results / "swings.jsonl")
    assert [swing.swing for swing in kept] == ["01-tee/001#0", "02-toss/[x]#0"]
    assert all(swing.outcome == "not_measured" and swing.reason for swing in kept)
    assert len(outcome.problems) == 2
    assert exit_status(outcome) == 4
    for name in ("swings.csv", "camera.json", "review/index.html", "tracks/01-tee/001.csv"):
        assert (outcome.results / name).is_file()


def test_results_that_cannot_be_written_are_one_line(tmp_path: Path) -> None:
    folder = make_lesson(tmp_path, SIZED)
    (folder / "results").write_text("in the way")
    result = run("measure", str(folder))
    assert result.exit_code == 1
    assert "results" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("swings", "status"),
    [
        ((HIT, MISS), 0),
        ((HIT, MISS, LOST), 3),
        ((MISS, LOST), 3),
        ((LOST,), 4),
        ((), 4),
    ],
)
def test_the_exit_status_says_all_some_or_none(outcome: LessonOutcome, swings: tuple[Swing, ...], status: int) -> None:
    assert exit_status(replace(outcome, swings=swings)) == status
    assert exit_status(replace(outcome, swings=swings, stopped=True)) == 130


def test_the_terminal_shows_swings_reasons_warnings_and_camera(
    outcome: LessonOutcome, capsys: pytest.CaptureFixture[str]
) -> None:
    swings = (replace(HIT, warnings=("few frames",)), MISS, LOST)
    print_outcome(replace(outcome, swings=swings, notes=("clips/[b]x left out",)), "us")
    shown = capsys.readouterr().out
    for words in (
        "67.1 ±0.7",  # HIT: 30 ± 1.645 * 0.2 m/s over 0.44704
        "12.0 L ±0.7",
        "no contact",
        LOST.reason,
        f"few frames ({HIT.swing})",
        "7 of 7 marks used",
        "clips/[b]x left out",
    ):
        assert words in shown


def test_every_command_has_help_and_stands_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, command in main.commands.items():
        assert command.help, name
        assert f"balltrack {name}" in readme
        assert all(
            isinstance(each, click.Argument) or each.help for each in command.params if isinstance(each, click.Option)
        )
        assert run(name, "--help").exit_code == 0


def test_help_and_readme_agree_on_the_exit_status() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = run("measure", "--help").output
    for status in (0, 1, 2, 3, 4, 130):
        assert f"| {status} |" in readme
        assert f"    {status} " in shown


def test_the_version_is_told() -> None:
    assert "0.1.0" in run("--version").output


def test_help_is_there_without_the_slow_imports() -> None:
    slow = ["numpy", "cv2", "scipy", "av", "matplotlib", "pydantic", "rich", "jinja2"]
    code = f"import sys, balltrack.cli; print([name for name in {slow} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_a_missing_system_library_is_one_line_with_its_remedy(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    class NoLibrary:
        def find_spec(self, name: str, path: object, target: object = None) -> None:
            if name == "balltrack.batch":
                raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.delitem(sys.modules, "balltrack.batch")
    monkeypatch.setattr(sys, "meta_path", [NoLibrary(), *sys.meta_path])
    result = run("measure", str(tmp_path))
    assert result.exit_code == 1
    assert "apt-get install libgl1 libglib2.0-0" in result.stderr
