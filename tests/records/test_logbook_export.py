"""Exporting and erasing: all of a player, whole, in three kinds of file; and gone from the database's own files."""

import csv
import datetime
import json
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

from balltrack.errors import LogbookError, RecordError
from balltrack.records.logbook.add import add_lesson
from balltrack.records.logbook.erase import erase
from balltrack.records.logbook.export import export
from balltrack.records.logbook.open import Logbook, open_logbook
from balltrack.records.logbook.read import KeptLesson, lessons_of, players
from balltrack.records.swing import Swing, from_json
from tests.records.conftest import Server
from tests.records.logbooks import HIT, LOST, MISS, entry, full_swing

RARE = "Quetzalcoatl O’Zyx"
SWINGS = (full_swing(), HIT, MISS, LOST)


@pytest.fixture
def lessons(tmp_path: Path) -> tuple[KeptLesson, ...]:
    """Of one player: a lesson with swings, and one in which none was seen."""
    with open_logbook(str(tmp_path / "logbook.sqlite")) as logbook:
        add_lesson(logbook, entry(tmp_path / "a", RARE, clips=["a"], swings=SWINGS))
        add_lesson(logbook, entry(tmp_path / "b", RARE, clips=["b"], swings=()))
        return lessons_of(logbook, RARE)


def test_json_lines_give_every_record_back(lessons: tuple[KeptLesson, ...], tmp_path: Path) -> None:
    assert export(tmp_path / "out.jsonl", lessons) == len(SWINGS)
    rows = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text(encoding="utf-8").splitlines()]
    names = [each.name for each in fields(Swing)]
    read = [from_json(json.dumps({name: row[name] for name in names})) for row in rows if row["number"]]
    assert tuple(read) == SWINGS
    assert [row["number"] for row in rows] == [1, 2, 3, 4, None]  # a lesson without swings has its row
    assert {row["player"] for row in rows} == {RARE}


def test_a_table_has_a_column_for_each_number_and_nothing_rounded(
    lessons: tuple[KeptLesson, ...], tmp_path: Path
) -> None:
    export(tmp_path / "out.csv", lessons)
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    first, miss = rows[0], rows[2]
    assert (first["held_on"], first["delivery"], first["player"]) == ("2026-05-30", "tee", RARE)
    # full_swing: landing_cov_m2 = ((1.0, 0.1), (0.1, 2.0)), contact_m = (0.1, 0.5, 0.8)
    parts = ("landing_var_x_m2", "landing_cov_xy_m2", "landing_var_y_m2", "contact_x_m", "contact_y_m", "contact_z_m")
    assert [float(first[name]) for name in parts] == [1.0, 0.1, 2.0, 0.1, 0.5, 0.8]
    assert first["warnings"] == "few frames; says “caught”; by the fence"
    assert miss["exit_speed_mps"] == miss["contact_x_m"] == ""


def test_parquet_says_the_same_with_types(lessons: tuple[KeptLesson, ...], tmp_path: Path) -> None:
    from pyarrow import parquet

    export(tmp_path / "out.parquet", lessons)
    export(tmp_path / "out.csv", lessons)
    table = parquet.read_table(tmp_path / "out.parquet")
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert table.column_names == list(rows[0])
    assert table["held_on"].to_pylist()[0] == datetime.date(2026, 5, 30)
    assert table["frames_used"].to_pylist() == [31, None, None, None, None]
    words = [{name: "" if value is None else str(value) for name, value in row.items()} for row in table.to_pylist()]
    assert words == rows


def test_a_file_of_another_kind_or_out_of_reach_is_refused(lessons: tuple[KeptLesson, ...], tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match=r"out.xlsx must end in .csv, .parquet, .jsonl"):
        export(tmp_path / "out.xlsx", lessons)
    (tmp_path / "file").touch()
    with pytest.raises(RecordError, match="cannot be written"):
        export(tmp_path / "file" / "out.csv", lessons)


def test_an_empty_logbook_exports_its_columns(tmp_path: Path) -> None:
    for name in ("out.csv", "out.parquet", "out.jsonl"):
        assert export(tmp_path / name, ()) == 0
    assert (tmp_path / "out.csv").read_text(encoding="utf-8-sig").startswith("player_code,player,lesson,held_on")


def test_an_erased_player_is_gone_and_the_others_are_not(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        add_lesson(logbook, entry(tmp_path / "a", RARE, clips=["a"]))
        add_lesson(logbook, entry(tmp_path / "b", clips=["b"]))
        erased = erase(logbook, "quetzalcoatl o'zyx")
        assert erased.folders == (str(tmp_path / "a"),)
        assert [line.player.name for line in players(logbook)] == ["Robin Example"]
        with pytest.raises(LogbookError, match="no player"):
            erase(logbook, RARE)


def test_one_lesson_can_be_erased_by_the_beginning_of_its_id(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        kept = add_lesson(logbook, entry(tmp_path / "a", clips=["a"])).lesson
        wrong = add_lesson(logbook, entry(tmp_path / "b", clips=["b"])).lesson
        with pytest.raises(LogbookError, match="0 lessons of Robin Example begin with xyz"):
            erase(logbook, "Robin Example", "xyz")
        erase(logbook, "Robin Example", wrong[:12])
        assert [lesson.id for lesson in lessons_of(logbook)] == [kept]
        erase(logbook, "Robin Example", kept)
        assert players(logbook) == ()


def assert_in_no_file(logbook: Logbook, folder: Path, tmp_path: Path, settle: Callable[[], None]) -> None:
    """Put a player in, see that the name is on the disk, take the player out, see that it is not."""
    lesson = entry(tmp_path / "lesson", RARE, swings=[HIT] * 200)
    needle = b"Quetzalcoatl"

    def files_with_it() -> list[Path]:
        return [path for path in folder.rglob("*") if path.is_file() and needle in path.read_bytes()]

    add_lesson(logbook, lesson)
    settle()
    assert files_with_it()
    erase(logbook, RARE)
    settle()
    assert files_with_it() == []


def test_nothing_of_an_erased_player_stays_in_the_file(tmp_path: Path) -> None:
    folder = tmp_path / "logbook"
    with open_logbook(str(folder / "logbook.sqlite")) as logbook:
        add_lesson(logbook, entry(tmp_path / "other", clips=["other"]))
        assert_in_no_file(logbook, folder, tmp_path, settle=lambda: None)


def test_nothing_of_an_erased_player_stays_in_the_servers_tables(server: Server, tmp_path: Path) -> None:
    import psycopg

    def settle() -> None:
        with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
            connection.execute("CHECKPOINT")  # the server writes to its files

    with open_logbook(server.new_database()) as logbook:
        add_lesson(logbook, entry(tmp_path / "other", clips=["other"]))
        assert_in_no_file(logbook, server.folder / "data" / "base", tmp_path, settle)
