"""A player over months: like compared with like, and intervals that hold the camera's error of each day."""

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from balltrack.lesson import Delivery
from balltrack.records.logbook.add import add_lesson
from balltrack.records.logbook.entry import BlockEntry, LessonEntry
from balltrack.records.logbook.open import open_logbook
from balltrack.records.logbook.read import KeptLesson, lessons_of
from balltrack.records.swing import Swing
from balltrack.review.history import Kind, series_of
from tests.records.logbooks import HIT, MISS, entry, season


def kept(folder: Path, *entries: LessonEntry) -> tuple[KeptLesson, ...]:
    with open_logbook(str(folder / "logbook.sqlite")) as logbook:
        for each in entries:
            add_lesson(logbook, each)
        return lessons_of(logbook)


def test_a_gain_far_beyond_its_uncertainty_is_found_and_none_is_not(tmp_path: Path) -> None:
    # Speeds are drawn 1.5 m/s about their mean; 4 m/s from the first lesson to the third, or nothing.
    (faster,) = series_of(kept(tmp_path / "faster", *season(tmp_path / "faster", gain_mps=2.0)))
    change = faster.change_since(0, "exit_speed")
    assert change.verdict == "up"
    assert change.low is not None and change.high is not None
    assert change.low < 4.0 < change.high
    (same,) = series_of(kept(tmp_path / "same", *season(tmp_path / "same", gain_mps=0.0)))
    assert same.change_since(0, "exit_speed").verdict == "not clear"


def test_many_swings_do_not_mend_what_the_camera_of_a_day_had_wrong(tmp_path: Path) -> None:
    # Each speed has an sd of 1 m/s that all swings of the day may share: of such a median nine in ten lie within
    # 1.645 m/s, however many the swings. 3 % for the bootstrap's own chance.
    swings = [replace(HIT, swing=f"01-tee/{at:03}#1", exit_speed_sd_mps=1.0) for at in range(200)]
    first = entry(tmp_path / "a", clips=["a"], swings=swings)
    second = replace(
        entry(tmp_path / "b", clips=["b"], swings=[replace(each, exit_speed_mps=31.0) for each in swings]),
        held_on=datetime.date(2026, 6, 30),
    )
    (series,) = series_of(kept(tmp_path, first, second))
    median = series.points[0].median("exit_speed")
    assert median.low == pytest.approx(30 - 1.645, abs=0.05)
    assert median.high == pytest.approx(30 + 1.645, abs=0.05)
    # Two such lessons differ by sqrt(2) times that: 2.33 m/s, so that 1 m/s more says nothing.
    change = series.change_since(0, "exit_speed")
    assert change.low == pytest.approx(1 - 2.33, abs=0.07)
    assert change.high == pytest.approx(1 + 2.33, abs=0.07)
    assert change.verdict == "not clear"


def test_tee_and_live_another_ball_and_the_other_hand_are_not_mixed(tmp_path: Path) -> None:
    blocks = (BlockEntry("01-tee", "Tee", "tee"), BlockEntry("02-live", "Live", "live"), BlockEntry("03", "More", None))
    swings = tuple(replace(HIT, block=block.name, swing=f"{block.name}/1#1") for block in blocks)
    first = replace(entry(tmp_path / "a", clips=["a"], swings=swings), blocks=blocks)
    second = replace(entry(tmp_path / "b", clips=["b"]), ball="baseball", held_on=datetime.date(2026, 6, 1))
    third = replace(entry(tmp_path / "c", clips=["c"]), bats="left", held_on=datetime.date(2026, 7, 1))
    deliveries: list[Delivery | None] = ["tee", "tee", "tee", "live", None]
    found = series_of(kept(tmp_path, first, second, third))
    assert [series.kind.delivery for series in found] == deliveries
    assert found[0].kind == Kind("tee", "baseball", "right")
    assert [len(series.points) for series in found] == [1] * 5


def test_swings_left_out_count_nowhere_and_numbers_are_those_of_the_file(tmp_path: Path) -> None:
    swings: list[Swing] = [replace(HIT, excluded="a bunt", exit_speed_mps=99.0), HIT, MISS, HIT]
    (series,) = series_of(kept(tmp_path, entry(tmp_path / "a", swings=swings)))
    (point,) = series.points
    median = point.median("exit_speed")
    assert (median.value, median.numbers, point.misses) == (30.0, (2, 4), 1)
    assert median.low is None  # two swings tell no interval
