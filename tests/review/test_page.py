"""The page stands alone, says everything that a reader must know, and runs nothing that a person typed."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from balltrack.camera.model import Camera
from balltrack.camera.solve import SolvedCamera
from balltrack.lesson import Lesson, load_lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.charts import Chart, inline_svg
from balltrack.review.page import css_words, lesson_page, ranges, write_review
from balltrack.review.reel import Film, Reel, Still
from balltrack.review.strings import ENGLISH
from tests.lesson.lessons import GOOD, make_lesson
from tests.lesson.test_words import SAID
from tests.records.swings import HIT, LOST, MISS

VOID = {"meta", "br", "link", "img", "use", "path"}
CHART = Chart("spray_chart", "<?xml?><svg width='9' height=\"9\"></svg>", b"", "Seven landing spots.")


class Balance(HTMLParser):
    """Collects tags that are closed out of turn, and the text that a person sees."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.seen: list[str] = []
        self.ids: list[str] = []
        self.pointed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            elif name == "aria-labelledby" or (name == "href" and (value or "").startswith("#")):
                self.pointed.append((value or "").removeprefix("#"))

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID and (not self.open or self.open.pop() != tag):
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.seen.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.seen).split())


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


def page_of(lesson: Lesson, swings: tuple[Swing, ...], units: Units = "us", reel: Reel | None = None) -> str:
    return lesson_page(lesson, swings, solved_for(lesson), units, (CHART,), reel)


def test_the_page_shows_numbers_reasons_warnings_and_the_bad_mark(lesson: Lesson) -> None:
    shown = read(page_of(lesson, (replace(HIT, warnings=("few frames",)), MISS, LOST))).text
    for words in (
        "67.1 ±0.7",  # 30 ± 1.645 * 0.2 m/s over 0.44704 m/s in a mile an hour
        "197 ±11",  # 60 ± 1.645 * 2 m over 0.3048
        "12.0 L ±0.7",
        "No contact",
        f"Not measured: {LOST.reason}",
        "few frames ( swing 1 )",
        "plate left 50.0 px, left out",  # hypot(30, 40)
        "the lens was <doubted>",
        "Stop at pain",
        "Why a number changed",
    ):
        assert words in shown, words


def test_the_coach_s_words_stand_where_they_belong(tmp_path: Path) -> None:
    text = GOOD.replace("reps = 10", 'notes = "low hands\\n\\nstill head"') + SAID.replace("001#1", "001#2")
    shown = read(page_of(load_lesson(make_lesson(tmp_path, text)), (MISS, HIT))).text
    for words in (
        "Batting lesson · 30 May 2026",
        "From your coach A good day.",
        "What to practise Twice a week. High tee 30",
        "Mind: a net behind the tee",
        "Soft toss 3 x 10 from the side",
        "Tee, middle low hands still head",
        "Coach: Eyes stay on the ball",
    ):
        assert words in shown, words
    assert shown.index("From your coach") < shown.index("Swing by swing") < shown.index("Coach: Eyes stay")


def test_a_page_without_a_coach_s_words_leaves_no_empty_headings(lesson: Lesson) -> None:
    page = page_of(lesson, (HIT,))
    assert ENGLISH["coach"] not in page
    assert ENGLISH["plan"] not in page
    assert not re.search(r"<h\d>\s*</h\d>|<ul>\s*</ul>|<p>\s*</p>", page)


def test_metric_readers_get_metric_numbers(lesson: Lesson) -> None:
    page = page_of(lesson, (HIT,), "metric")
    assert "108.0 ±1.2" in page  # 30 m/s = 108 km/h
    assert "mph" not in page


@pytest.mark.parametrize("swings", [(), (HIT, MISS, LOST), (replace(HIT, quality="poor"),), (HIT,) * 12, (MISS,)])
def test_every_tag_is_closed_in_its_turn_and_every_pointer_has_its_place(
    lesson: Lesson, swings: tuple[Swing, ...]
) -> None:
    reader = read(page_of(lesson, swings))
    assert (reader.wrong, reader.open) == ([], [])
    assert len(set(reader.ids)) == len(reader.ids)
    assert set(reader.pointed) <= set(reader.ids)


def test_what_a_person_typed_is_shown_and_never_run(tmp_path: Path) -> None:
    text = GOOD.replace("Robin Example", "</style><script>alert(1)</script>")
    text += '[lesson]\nnotes = "<script>alert(2)</script>"\n[[plan.drills]]\nname = "<img src=y onerror=z>"\n'
    page = page_of(load_lesson(make_lesson(tmp_path, text)), (replace(LOST, reason="<img src=x onerror=y>"),))
    assert "<script" not in page
    assert "<img" not in page
    assert page.count("</style>") == 1
    assert "&lt;script&gt;" in page


def test_a_name_in_the_page_s_foot_cannot_end_its_string() -> None:
    # CSS 2.1, 4.1.3: a backslash and hexadecimal digits, ended by a space, are one character.
    assert css_words('A"\\') == '"\\41 \\22 \\5c "'


def test_the_files_need_no_network_and_are_the_same_each_time(lesson: Lesson, tmp_path: Path) -> None:
    swings = (HIT, MISS, LOST)
    for folder in ("a", "b"):
        written = write_review(tmp_path / folder, lesson, swings, solved_for(lesson), "us")
    assert {"index.html", "spray_chart.svg", "spray_chart.png"} <= {path.name for path in written}
    for path in written:
        assert (tmp_path / "a" / path.name).read_bytes() == path.read_bytes()
    page = (tmp_path / "a" / "index.html").read_text(encoding="utf-8")
    addresses = set(re.findall(r"https?://[^\"' )<]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # names, not places
    assert not re.search(r"<script|<link|@import|src=|url\((?!#)", page)
    reader = read(page)
    assert reader.wrong == []
    assert len(set(reader.ids)) == len(reader.ids)


def test_films_lie_beside_the_page_and_stills_within_it(lesson: Lesson) -> None:
    reel = Reel(
        films=(Film("clips/swing-001.mp4", (1,), "clips/contact-001.jpg"),),
        pair=Film("clips/side-by-side-001-002.mp4", (1, 2), ""),
        strip=Still("data:image/jpeg;base64,AAAA", "Stills of swing 1 above those of swing 2.", (1, 2)),
        contacts=(Still("data:image/jpeg;base64,BBBB", "Swing 1 at contact.", (1,)),),
    )
    page = page_of(lesson, (HIT, HIT), reel=reel)
    sources = re.findall(r'(?:src|poster)="([^"]*)"', page)
    assert [each for each in sources if not each.startswith(("clips/", "data:image/jpeg;base64,"))] == []
    assert 'alt="Stills of swing 1 above those of swing 2."' in page
    assert 'preload="none"' in page  # nothing is loaded until a person asks for it
    assert "hand on the whole folder" in page


def test_the_page_can_be_read_aloud(lesson: Lesson) -> None:
    page = page_of(lesson, (HIT, MISS))
    assert '<html lang="en">' in page
    assert 'role="img" aria-labelledby="spray_chart-words"' in page
    assert CHART.words in page
    for head in re.findall(r"<th[ >][^>]*>?", page):
        assert "scope=" in head, head
    levels = [int(level) for level in re.findall(r"<h(\d)", page)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))


def test_two_charts_on_a_page_keep_their_names_apart() -> None:
    svg = (
        '<svg><defs><style type="text/css">*{stroke-linecap: butt}</style><path id="m1"/></defs><use href="#m1"/></svg>'
    )
    assert inline_svg(svg, "a-words", "a-") == (
        '<svg role="img" aria-labelledby="a-words" style="stroke-linecap: butt">'
        '<defs><path id="a-m1"/></defs><use href="#a-m1"/></svg>'
    )


def test_numbers_in_a_row_are_said_as_a_range() -> None:
    assert ranges((7, 1, 2, 3)) == [(1, 3), (7, 7)]
    assert ranges(()) == []
