"""Adding lessons: no doubles, nothing lost, two players of one name told apart; on SQLite and on PostgreSQL."""

import datetime
import multiprocessing
import shutil
from collections.abc import Sequence
from dataclasses import replace
from multiprocessing.synchronize import Barrier
from pathlib import Path

import pytest

from balltrack.errors import LogbookError
from balltrack.records.logbook.add import PlayerWish, add_lesson
from balltrack.records.logbook.entry import LessonEntry, fingerprint_of
from balltrack.records.logbook.identity import id_file, read_id
from balltrack.records.logbook.open import open_logbook
from balltrack.records.logbook.players import name_key
from balltrack.records.logbook.read import lessons_of, players
from tests.records.logbooks import HIT, LOST, MISS, entry, full_swing


def test_a_lesson_comes_back_as_it_was_put_in(database: str, tmp_path: Path) -> None:
    put_in = entry(tmp_path / "a", "Zoë O’Neil-Łukasz 山田", swings=[full_swing(), HIT, MISS, LOST])
    with open_logbook(database) as logbook:
        add_lesson(logbook, put_in)
        (kept,) = lessons_of(logbook)
    assert kept.swings == put_in.swings
    assert (kept.player.name, kept.held_on, kept.bats, kept.ball) == (
        put_in.player,
        put_in.held_on,
        put_in.bats,
        put_in.ball,
    )
    assert kept.blocks == put_in.blocks


def test_a_lesson_added_again_is_brought_up_to_date_and_not_doubled(database: str, tmp_path: Path) -> None:
    first = entry(tmp_path / "a")
    more = entry(tmp_path / "a", clips=["a", "b", "c", "d", "e", "f"], swings=[HIT, MISS, LOST])
    with open_logbook(database) as logbook:
        assert add_lesson(logbook, first).swings_before is None
        assert add_lesson(logbook, first).swings_before == 2
        again = add_lesson(logbook, replace(more, held_on=datetime.date(2026, 6, 1)))
        assert (again.swings_before, again.swings, again.player_lessons) == (2, 3, 1)
        (kept,) = lessons_of(logbook)
    assert kept.swings == more.swings
    assert kept.held_on == datetime.date(2026, 6, 1)


def test_a_lesson_whose_results_were_deleted_is_known_by_its_clips(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        first = add_lesson(logbook, entry(tmp_path / "a", clips=["a", "b", "c"]))
        assert read_id(tmp_path / "a") == first.lesson
        shutil.rmtree(tmp_path / "a" / "results")
        again = add_lesson(logbook, entry(tmp_path / "a", clips=["a", "b", "c", "d"]))
        assert (again.lesson, again.player_lessons) == (first.lesson, 1)
        moved = add_lesson(logbook, entry(tmp_path / "moved", clips=["a", "b", "c", "d"]))
        assert (moved.lesson, moved.player_lessons) == (first.lesson, 1)


def test_a_folder_copied_to_begin_the_next_lesson_is_a_lesson_of_its_own(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        first = add_lesson(logbook, entry(tmp_path / "a", clips=["a", "b", "c", "d"]))
        shutil.copytree(tmp_path / "a", tmp_path / "b")  # with the id in its results
        new_clips = add_lesson(logbook, entry(tmp_path / "b", clips=["e", "f", "g", "h"]))
        assert new_clips.lesson != first.lesson
        assert read_id(tmp_path / "b") == new_clips.lesson
        shutil.copytree(tmp_path / "a", tmp_path / "c")
        mostly_new = add_lesson(logbook, entry(tmp_path / "c", clips=["a", "i", "j", "k"]))
        assert mostly_new.player_lessons == 3


def test_a_copy_kept_for_safety_is_the_same_lesson(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        add_lesson(logbook, entry(tmp_path / "a"))
        shutil.copytree(tmp_path / "a", tmp_path / "b")
        assert add_lesson(logbook, entry(tmp_path / "b")).player_lessons == 1


def test_a_folder_split_between_two_players_is_two_lessons(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        add_lesson(logbook, entry(tmp_path / "a", "Robin Example", clips=["a", "b", "c", "d"]))
        shutil.copytree(tmp_path / "a", tmp_path / "b")
        add_lesson(logbook, entry(tmp_path / "b", "Sam Example", clips=["c", "d"]))
        assert [(line.player.name, line.lessons) for line in players(logbook)] == [
            ("Robin Example", 1),
            ("Sam Example", 1),
        ]


def test_a_name_put_right_in_the_lesson_takes_the_wrong_one_out(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        add_lesson(logbook, entry(tmp_path / "a", "Robn Example"))
        add_lesson(logbook, entry(tmp_path / "a", "Robin Example"))
        assert [line.player.code for line in players(logbook)] == ["robin-example"]


@pytest.mark.parametrize(
    "typed",
    ["zoe\u0308 o'neil", "ZOË  O’NEIL", " Zoë O‘Neil "],  # ë composed of two, capitals, other apostrophes and spaces
)
def test_a_name_is_the_same_however_it_is_typed(typed: str) -> None:
    assert name_key(typed) == name_key("Zoë O'Neil")


def test_names_that_would_break_a_query_are_names(database: str, tmp_path: Path) -> None:
    names = ["'; DROP TABLE players; --", "Robert\\", "%_", "🥎", "..."]
    with open_logbook(database) as logbook:
        for at, name in enumerate(names):
            add_lesson(logbook, entry(tmp_path / f"{at}", name, clips=[f"{at}"]))
        for name in names:
            (kept,) = lessons_of(logbook, name)
            assert kept.player.name == name
            assert lessons_of(logbook, kept.player.code) == (kept,)
        assert len({line.player.code for line in players(logbook)}) == len(names)


def test_two_players_of_one_name_are_told_apart(database: str, tmp_path: Path) -> None:
    one, other, third = (entry(tmp_path / name, clips=[name]) for name in ("a", "b", "c"))
    with open_logbook(database) as logbook:
        add_lesson(logbook, one)
        made = add_lesson(logbook, other, PlayerWish(new=True))
        assert made.player.code == "robin-example-2"
        assert add_lesson(logbook, other, PlayerWish(new=True)).player.code == "robin-example-2"
        with pytest.raises(LogbookError, match=r"2 players called Robin Example.*robin-example, robin-example-2"):
            add_lesson(logbook, third)
        with pytest.raises(LogbookError, match="say which: robin-example, robin-example-2"):
            lessons_of(logbook, "robin example")
        assert add_lesson(logbook, third, PlayerWish("robin-example-2")).player_lessons == 2
        assert add_lesson(logbook, third).player == made.player  # it is known whose it is
        assert add_lesson(logbook, one).player.code == "robin-example"
        assert [line.lessons for line in players(logbook)] == [1, 2]


def test_a_lesson_can_be_given_to_another_player(database: str, tmp_path: Path) -> None:
    with open_logbook(database) as logbook:
        add_lesson(logbook, entry(tmp_path / "a", "Sam", clips=["a"]))
        add_lesson(logbook, entry(tmp_path / "b", "Samuel", clips=["b"]))
        add_lesson(logbook, entry(tmp_path / "b", "Samuel", clips=["b"]), PlayerWish("sam"))
        assert add_lesson(logbook, entry(tmp_path / "b", "Samuel", clips=["b"])).player.code == "sam"
        assert [(line.player.name, line.lessons) for line in players(logbook)] == [("Sam", 2)]
        with pytest.raises(LogbookError, match='no player "Kim"'):
            add_lesson(logbook, entry(tmp_path / "a", "Sam", clips=["a"]), PlayerWish("Kim"))


def test_a_lesson_that_cannot_be_put_in_leaves_the_logbook_as_it_was(database: str, tmp_path: Path) -> None:
    whole = entry(tmp_path / "a")
    twice = replace(whole, clips=(*whole.clips, whole.clips[0]), swings=(HIT,))  # a clip's name twice: refused midway
    with open_logbook(database) as logbook:
        add_lesson(logbook, whole)
        with pytest.raises(LogbookError):
            add_lesson(logbook, twice)
        (kept,) = lessons_of(logbook)
        assert kept.swings == whole.swings


def test_a_lesson_folder_that_cannot_be_written_is_said_and_known_by_its_clips(tmp_path: Path) -> None:
    made = entry(tmp_path / "a")
    id_file(made.folder).mkdir(parents=True)  # in the way of the file
    with open_logbook(str(tmp_path / "logbook.sqlite")) as logbook:
        assert not add_lesson(logbook, made).id_kept
        assert add_lesson(logbook, made).player_lessons == 1


def test_clips_are_told_apart_by_their_beginning_their_end_and_their_size(tmp_path: Path) -> None:
    body = bytes(300_000)
    contents = {"same": b"a" + body + b"z", "copy": b"a" + body + b"z", "end": b"a" + body + b"y"}
    contents |= {"start": b"b" + body + b"z", "size": b"a" + body + b"\0z"}
    for name, content in contents.items():
        (tmp_path / name).write_bytes(content)
    prints = {name: fingerprint_of(tmp_path / name) for name in contents}
    assert prints["same"] == prints["copy"]
    assert len(set(prints.values())) == 4


COMMON, EACH = "common", 8


def add_many(database: str, mine: Sequence[LessonEntry], ready: Barrier) -> None:
    """In a process of its own, begun with the other's."""
    ready.wait(timeout=300)
    for each in mine:
        with open_logbook(database) as logbook:
            add_lesson(logbook, each)


def test_two_programs_adding_at_once_lose_nothing_and_double_nothing(database: str, tmp_path: Path) -> None:
    shared = entry(tmp_path / COMMON, clips=["shared"])
    spawn = multiprocessing.get_context("spawn")
    programs, ready = [], spawn.Barrier(2)
    for name in ("one", "two"):
        lessons = [entry(tmp_path / f"{name}{at}", clips=[f"{name}{at}"]) for at in range(EACH)]
        programs.append(spawn.Process(target=add_many, args=(database, [shared, *lessons], ready)))
    for program in programs:
        program.start()  # there is no logbook yet: both make it
    for program in programs:
        program.join(timeout=300)
    assert [program.exitcode for program in programs] == [0, 0]
    with open_logbook(database) as logbook:
        (line,) = players(logbook)
        assert (line.lessons, line.swings) == (1 + 2 * EACH, 2 * (1 + 2 * EACH))
