"""File names from anywhere: spaces, quotes, commands, markup, all scripts. And those that cannot be shown."""

import csv
import io
import os
import shutil
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import LessonError, VideoError
from balltrack.lesson.folder import MOST_NAME_BYTES, find_clips
from balltrack.names import hides_letters, shown
from balltrack.records.store import read_swings
from balltrack.video.clip import probe
from balltrack.video.encode import write_clip
from tests.hostile.small_lesson import film, small_lesson

BALLTRACK = (sys.executable, "-m", "balltrack.cli")
ODD = (
    "two words.mp4",
    "it's \"quoted\" `here`.mp4",
    "$(touch pwned); touch pwned & touch pwned.mp4",
    "-v.mp4",
    "=1+1,2.mp4",
    "<img src=x onerror=alert(1)>.mp4",
    "[bold red]no[x] [link=x]y.mp4",
    "{{7*7}} {% raw %}.mp4",
    "ضربة 12.mp4",
    "מכה.mp4",
    "打球⚾.mp4",
    "%s %d %(a)s.mp4",
    "http:a|b?c.mp4",
    "con.aux.mp4",
    f"{'l' * (MOST_NAME_BYTES - 4)}.mp4",
)
NOT_UTF8 = os.fsdecode(b"latin\xe9.mp4")
HIDDEN = ("line\nbreak.mp4", "\x1b[31mred.mp4", "turned\u202e4pm.mp4", NOT_UTF8, f"{'l' * 240}.mp4")


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """A lesson with all those names, in a folder with such a name, measured and reviewed by the real commands."""
    folder = small_lesson(tmp_path_factory.mktemp("odd") / "-lesson of $(touch pwned) 'Kim'")
    block = folder / "clips" / "=2+2 [b] ضرب"
    block.mkdir()
    shutil.copy(folder / "clips" / "01-tee" / "001.mp4", block / ODD[2])
    for name in (*ODD[:2], *ODD[3:], *HIDDEN):
        (block / name).touch()  # empty: a record says so, by its name
    done = _run(folder.parent, "measure", "--no-network", "--workers", "1", "--", folder.name)
    reviewed = _run(folder.parent, "review", "--no-pdf", "--", folder.name)
    assert reviewed.returncode == 0, reviewed.stderr
    return folder, done


def _run(place: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*BALLTRACK, *words], cwd=place, capture_output=True, text=True, check=False, timeout=300)


def test_every_name_that_can_be_shown_is_measured_and_told(
    measured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, done = measured
    assert done.returncode == 4, done.stderr  # nobody swings, and the others are empty files
    assert "Traceback" not in done.stdout + done.stderr
    told = {Path(swing.clip).name for swing in read_swings(folder / "results" / "swings.jsonl")}
    assert told == set(ODD) - {ODD[2]}  # in that one nothing was to be told
    assert (folder / "results" / "tracks" / "=2+2 [b] ضرب" / ODD[2]).with_suffix(".csv").is_file()


def test_a_name_that_cannot_be_shown_is_left_out_with_a_word_in_one_line(
    measured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    lines = [line for line in measured[1].stdout.split("\n") if "left out" in line]
    assert len(lines) == len(HIDDEN)
    assert sum("holds a letter that cannot be shown" in line for line in lines) == len(HIDDEN) - 1
    assert sum(f"at most {MOST_NAME_BYTES}" in line for line in lines) == 1
    assert not any(hides_letters(line) for line in measured[1].stdout.split("\n"))


def test_no_name_is_run_as_a_command(measured: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    assert list(measured[0].parent.rglob("pwned")) == []
    assert not Path("pwned").exists()


def test_no_name_is_markup_in_the_page_or_a_formula_in_the_table(
    measured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    results = measured[0] / "results"
    page = (results / "review" / "index.html").read_text(encoding="utf-8")
    assert "<img src=x" not in page
    assert "{{7*7}}" in page  # told as it is, not worked out
    table = (results / "swings.csv").read_text(encoding="utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(table)) for cell in row]
    assert any("=2+2" in cell for cell in cells)
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells)


def test_a_film_is_written_to_a_place_whose_name_looks_like_an_option_or_an_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    planes = (np.full((32, 32), 90, np.uint8), np.full((16, 16), 128, np.uint8), np.full((16, 16), 128, np.uint8))
    for folder in ("-y", "http:x", "a|b; touch pwned"):
        write_clip(Path(folder, "-film.mp4"), [planes] * 3, Fraction(30))
        assert probe(Path(folder, "-film.mp4")).size_px == (32, 32)
    assert not Path("pwned").exists()


def test_a_clip_is_opened_by_its_whole_path_and_never_as_an_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    film(tmp_path / "plain.mp4").rename("concat:x|y.mp4")
    assert probe(Path("concat:x|y.mp4")).size_px == (320, 180)


@pytest.mark.parametrize("name", HIDDEN[:4])
def test_a_clip_given_by_a_name_that_cannot_be_shown_is_one_line(tmp_path: Path, name: str) -> None:
    film(tmp_path / "plain.mp4").rename(tmp_path / name)
    with pytest.raises(VideoError, match="cannot be shown") as raised:
        probe(tmp_path / name)
    assert not hides_letters(str(raised.value))


def test_a_name_is_shown_as_a_program_writes_it() -> None:
    assert shown("a\nb\u202e\x1b ضربة") == "a\\nb\\u202e\\x1b ضربة"


def test_links_out_of_the_lesson_are_refused_and_links_inside_are_followed(tmp_path: Path) -> None:
    outside = film(tmp_path / "outside" / "1.mp4")
    places = {"clip": "clips/01-tee/002.mp4", "block": "clips/02-toss", "clips": "clips"}
    for what, place in places.items():
        lesson = tmp_path / what
        (lesson / place).parent.mkdir(parents=True)
        (lesson / place).symlink_to(outside if what == "clip" else outside.parent)
        with pytest.raises(LessonError, match="is a link out of the lesson folder"):
            find_clips(lesson, {})
    (tmp_path / "round" / "clips").mkdir(parents=True)
    (tmp_path / "round" / "clips" / "a").symlink_to("a")
    with pytest.raises(LessonError, match="is a link out of the lesson folder"):
        find_clips(tmp_path / "round", {})
    inside = small_lesson(tmp_path / "inside")
    (inside / "clips" / "02-again").symlink_to("01-tee")
    assert len(find_clips(inside, {})[0]) == 2
