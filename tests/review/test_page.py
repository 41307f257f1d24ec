"""The page stands alone, says everything that a reader must know, and runs nothing that a person typed."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from balltrack.camera.model import Camera
from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.page import lesson_page, write_review
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, LOST, MISS

VOID = {"meta", "br", "link", "img", "use", "path"}


class Balance(HTMLParser):
    """Collects tags that are closed out of turn, and the text that a person sees."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID and (not self.open or self.open.pop() != tag):
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        self.seen.append(data)


def read(page: str) -> Balance:
    reader = Balance()
    reader.feed(page)
    reader.close()
    return reader


def solved_for(lesson: Lesson) -> SolvedCamera:
    residuals_px = np.zeros((len(lesson.marks), 2))
    residuals_px[1] = (30.0, 40.0)
    camera = Camera(np.ones(11), np.zeros((11, 11)), (1920, 1080))
    return SolvedCamera(camera, residuals_px, (lesson.marks[1].name,), ("the lens was <doubted>",), 0.8)


@pytest.fixture
def lesson(tmp_path: Path) -> Lesson:
    return load_lesson(make_lesson(tmp_path))


def page_of(lesson: Lesson, swings: tuple[Swing, ...], units: Units = "us") -> str:
    return lesson_page(lesson, swings, solved_for(lesson), units, "<?xml?><svg width='9' height=\"9\"></svg>")


def test_the_page_shows_numbers_reasons_warnings_and_the_bad_mark(lesson: Lesson) -> None:
    page = page_of(lesson, (replace(HIT, warnings=("few frames",)), MISS, LOST))
    shown = " ".join(" ".join(read(page).seen).split())
    for words in (
        "67.1 ±0.7",  # 30 ± 1.645 * 0.2 m/s over 0.44704 m/s in a mile an hour
        "197 ±11",  # 60 ± 1.645 * 2 m over 0.3048
        "12.0 L ±0.7",
        "No contact",
        f"Not measured: {LOST.reason}",
        "few frames (swing 1)",
        "plate_left 50.0 left out",  # hypot(30, 40)
        "the lens was <doubted>",
        "opposite field is right field",
        "Stop at pain",
    ):
        assert words in shown, words


def test_metric_readers_get_metric_numbers(lesson: Lesson) -> None:
    page = page_of(lesson, (HIT,), "metric")
    assert "108.0 ±1.2" in page  # 30 m/s = 108 km/h
    assert "mph" not in page


@pytest.mark.parametrize("swings", [(), (HIT, MISS, LOST), (replace(HIT, quality="poor"),)])
def test_every_tag_is_closed_in_its_turn(lesson: Lesson, swings: tuple[Swing, ...]) -> None:
    reader = read(page_of(lesson, swings))
    assert (reader.wrong, reader.open) == ([], [])


def test_what_a_person_typed_is_shown_and_never_run(tmp_path: Path) -> None:
    text = GOOD.replace("Robin Example", "<script>alert(1)</script>")
    page = page_of(load_lesson(make_lesson(tmp_path, text)), (replace(LOST, reason="<img src=x onerror=y>"),))
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;" in page


def test_the_files_need_no_network_and_are_the_same_each_time(lesson: Lesson, tmp_path: Path) -> None:
    swings = (HIT, MISS, LOST)
    for folder in ("a", "b"):
        write_review(tmp_path / folder, lesson, swings, solved_for(lesson), "us")
    for name in ("index.html", "spray_chart.svg", "spray_chart.png"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    page = (tmp_path / "a" / "index.html").read_text(encoding="utf-8")
    addresses = set(re.findall(r"https?://[^\"' )<]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # names, not places
    assert not re.search(r"<script|<link|@import|src=|url\((?!#)", page)
    assert read(page).wrong == []


def test_the_page_can_be_read_aloud(lesson: Lesson) -> None:
    page = page_of(lesson, (HIT, MISS))
    assert '<html lang="en">' in page
    assert 'role="img" aria-labelledby="chart-words"' in page
    assert 'id="chart-words"' in page
    for head in re.findall(r"<th[ >][^>]*>?", page):
        assert "scope=" in head, head
