"""Charts drawn by other processes are those that this one would draw, and are drawn whatever becomes of these."""

import multiprocessing

import pytest

from balltrack.batch.drawers import Drawers
from balltrack.lesson import Lesson, load_lesson
from balltrack.review.charts import Chart, charts_of
from tests.lesson.lessons import make_lesson
from tests.records.swings import HIT, LOST, MISS

SWINGS = (HIT, MISS, LOST)


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Lesson:
    return load_lesson(make_lesson(tmp_path_factory.mktemp("lesson")))


@pytest.fixture(scope="module")
def drawn_here(lesson: Lesson) -> tuple[Chart, ...]:
    return charts_of(lesson, SWINGS, "us")


def test_two_processes_draw_every_byte_as_one_does(lesson: Lesson, drawn_here: tuple[Chart, ...]) -> None:
    before = set(multiprocessing.active_children())
    with Drawers(2) as drawers:
        drawers.begin()
        begun = set(multiprocessing.active_children()) - before
        assert drawers.draw(lesson, SWINGS, "us") == drawn_here
    assert len(begun) == 2
    assert not set(multiprocessing.active_children()) - before


def test_charts_are_drawn_though_the_processes_have_died(lesson: Lesson, drawn_here: tuple[Chart, ...]) -> None:
    before = set(multiprocessing.active_children())
    with Drawers(2) as drawers:
        drawers.begin()
        for process in set(multiprocessing.active_children()) - before:
            process.kill()
        assert drawers.draw(lesson, SWINGS, "us") == drawn_here
