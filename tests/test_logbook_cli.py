"""The logbook's commands as a coach types them, from a measured folder to an erased player."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.records.logbook.add import add_lesson
from balltrack.records.logbook.open import open_logbook
from tests.records.logbooks import full_swing, season
from tests.review.test_entry import measured


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the logbook lies."""
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setenv("BALLTRACK_DATABASE", str(path))
    return path


def run(*words: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, ["logbook", *words], input=typed)


def one_line(result: Result) -> str:
    assert result.exit_code == 1
    assert result.stdout == ""
    (line,) = result.stderr.strip().splitlines()
    return line


def test_a_measured_lesson_goes_in_is_listed_and_added_again(tmp_path: Path, file: Path) -> None:
    folder = measured(tmp_path / "lesson")
    result = run("add", str(folder))
    assert result.exit_code == 0
    assert "Robin Example (robin-example): lesson of 2026-05-28 (by the files' dates" in result.stdout
    assert "2 swings; 1 lesson in all" in result.stdout
    assert "2 swings, in place of 2 swings; 1 lesson in all" in run("add", str(folder)).stdout
    listed = run("list").stdout
    assert "robin-example: Robin Example, 1 lesson, 2 swings, 2026-05-28" in listed
    assert str(file) in listed


def test_two_of_one_name_are_added_with_a_word(tmp_path: Path) -> None:
    one, other = (measured(tmp_path / name) for name in ("one", "other"))
    (other / "clips/01-tee/001.mp4").write_bytes(b"another film")
    (other / "clips/01-tee/002.mp4").write_bytes(b"and one more")
    run("add", str(one))
    assert "(robin-example-2)" in run("add", "--new-player", str(other)).stdout
    assert "say which" in one_line(run("show", "Robin Example"))
    assert run("add", "--new-player", "--player", "x", str(other)).exit_code == 2


def test_show_tells_the_medians_and_what_changed(tmp_path: Path, file: Path) -> None:
    with open_logbook(str(file)) as logbook:
        for lesson in season(tmp_path, gain_mps=2.0):
            add_lesson(logbook, lesson)
    chart = tmp_path / "chart.svg"
    shown = run("show", "robin-example", "--units", "metric", "--chart", str(chart)).stdout
    assert "exit speed, km/h" in chart.read_text(encoding="utf-8")
    assert run("show", "robin-example", "--chart", "chart.pdf").exit_code == 2
    assert "Off a tee, softball-12, from the right side" in shown
    assert "From 2026-03-01 to 2026-05-01:" in shown
    assert "From 2026-04-01 to 2026-05-01:" in shown
    (speed, _) = (line for line in shown.splitlines() if "Exit speed: " in line)
    assert "km/h faster, likely" in speed
    for words in ("2026-03-01", "15", "km/h", "Carry", "lesson-2", "12.0 L", "about one speaks of a change"):
        assert words in shown


def test_a_logbook_without_anybody_says_how_to_begin() -> None:
    assert "The logbook is empty" in run("list").stdout
    assert 'no player "Kim"' in one_line(run("show", "Kim"))
    assert 'no player "Kim"' in one_line(run("erase", "Kim", "--yes"))


@pytest.mark.parametrize("ending", ["csv", "parquet", "jsonl"])
def test_a_player_is_exported(tmp_path: Path, ending: str) -> None:
    run("add", str(measured(tmp_path / "lesson")))
    out = tmp_path / f"out.{ending}"
    assert "2 swings of 1 lesson." in run("export", str(out), "--player", "Robin Example").stdout
    if ending == "jsonl":
        assert [json.loads(line)["outcome"] for line in out.read_text().splitlines()] == ["no_contact", "measured"]
    assert out.stat().st_size > 500


def test_a_file_of_another_kind_is_one_line(tmp_path: Path) -> None:
    assert "must end in .csv, .parquet, .jsonl" in one_line(run("export", str(tmp_path / "out.txt")))


def test_erasing_asks_first_and_says_what_stays(tmp_path: Path) -> None:
    folder = measured(tmp_path / "lesson")
    run("add", str(folder))
    assert run("erase", "Robin Example", typed="n\n").exit_code == 1
    assert "robin-example" in run("list").stdout
    erased = run("erase", "Robin Example", typed="y\n")
    assert "Erased: 1 lesson of Robin Example." in erased.stdout
    assert "Videos and results are still in:" in erased.stdout
    assert str(folder) in erased.stdout
    assert (folder / "results" / "swings.jsonl").is_file()
    assert "The logbook is empty" in run("list").stdout


def test_a_folder_that_is_no_lesson_is_one_line(tmp_path: Path) -> None:
    assert "no such folder" in one_line(run("add", str(tmp_path / "nowhere")))


def test_help_says_where_the_data_lies() -> None:
    words = " ".join(run("--help").stdout.split())
    assert "lies on this machine" in words
    assert "videos of people stay in the lesson folders" in words
    assert "exported whole or erased whole" in words


def test_a_swing_that_was_left_out_is_said(tmp_path: Path, file: Path) -> None:
    (lesson,) = season(tmp_path, gain_mps=0.0, swings=3, lessons=1)
    with open_logbook(str(file)) as logbook:
        add_lesson(logbook, replace(lesson, swings=(*lesson.swings, full_swing())))
    assert "4 swings, 1 left out" in run("show", "robin-example").stdout
