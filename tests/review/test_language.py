"""All words of the review come from one table: spoken from another one, no English is left in what a reader sees."""

import ast
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import get_args

import pytest
from PIL.ImageDraw import ImageDraw

from balltrack.field import BALL_KINDS, FREE_POINTS, Fence, named_points
from balltrack.lesson import Delivery, Lesson, load_lesson
from balltrack.records.camera_file import read_camera
from balltrack.records.store import read_swings
from balltrack.records.swing import FieldSide, FlightKind, Outcome, Quality, Swing
from balltrack.records.wording import WORDS
from balltrack.review.change import compare
from balltrack.review.change_words import change_words
from balltrack.review.changes import ASKED, ASKED_OF_BLOCKS
from balltrack.review.charts import charts_of
from balltrack.review.history import series_of
from balltrack.review.history_chart import draw_history_chart
from balltrack.review.language import Texts, listed, say, speaking, texts
from balltrack.review.page import lesson_page
from balltrack.review.quantity import Quantity
from balltrack.review.reel import find_reel, write_reel
from balltrack.review.strings import ENGLISH
from balltrack.review.strings.charts import CHARTS
from balltrack.review.strings.page import PAGE
from balltrack.review.strings.pictures import PICTURES
from balltrack.review.strings.statistics import STATISTICS
from balltrack.review.style import chart_svg
from balltrack.video import encode
from tests.lesson.lessons import GOOD, make_lesson
from tests.lesson.test_words import SAID
from tests.records.logbooks import season
from tests.records.swings import LOST
from tests.review.counted import group, hit
from tests.review.invented import CLIPS, invented_swings
from tests.review.test_history import kept
from tests.review.test_page import solved_for

REVIEW = Path(__file__).parents[2] / "balltrack" / "review"
CYRILLIC = dict(zip("abcdefghijklmnopqrstuvwxyz", "абцдефгхийклмнопярстувшжыз", strict=True))
# Units are written alike in all tables: whole words, so that a sentence that is left is still told by its other words.
UNITS = re.compile(r"(?<![A-Za-z])(?:mph|km/h|ft|in|cm|m|px|ms|s)(?![A-Za-z])")
SEEN = ("alt", "aria-label", "title", "data-name")


def invented_language() -> Texts:
    """The English table in letters of another script, so that any word of this one is known to come from elsewhere."""
    letters = CYRILLIC | {latin.upper(): other.upper() for latin, other in CYRILLIC.items()}

    def written(text: str) -> str:
        return re.sub(r"\{[^}]*\}|[A-Za-z]", lambda found: letters.get(found[0], found[0]), text)

    kept_names = ("language", "plural")
    return {name: text if name in kept_names else written(text) for name, text in ENGLISH.items()}


class Visible(HTMLParser):
    """Each text that is seen or read aloud, whole."""

    def __init__(self) -> None:
        super().__init__()
        self.inside = ""
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag
        self.texts += [value for name, value in attrs if name in SEEN and value]

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside not in ("style", "metadata") and data.strip():
            self.texts.append(" ".join(data.split()))


def visible(markup: str) -> list[str]:
    reader = Visible()
    reader.feed(markup)
    reader.close()
    return reader.texts


def english_in(words: list[str], own: set[str]) -> list[str]:
    """What is left in the script of the English table, less units and what the lesson itself says."""
    left = []
    for each in words:
        rest = each
        for data in sorted(own, key=len, reverse=True):
            rest = rest.replace(data, " ")
        if re.search("[A-Za-z]", UNITS.sub(" ", " ".join(rest.split()))):
            left.append(each)
    return left


def own_words(lesson: Lesson, swings: tuple[Swing, ...]) -> set[str]:
    """Names, notes and plan as the coach typed them, and what measuring wrote into the records."""
    said = {lesson.player.name, lesson.words.notes, lesson.words.plan, "balltrack 0.1.0", lesson.settings_hash}
    said |= {
        text for drill in lesson.words.drills for text in (drill.name, drill.repetitions, drill.words, drill.caution)
    }
    said |= {line for notes in lesson.words.swing_notes.values() for line in (notes, *notes.splitlines())}
    said |= {text for block in lesson.blocks for text in (block.title, block.notes)}
    for swing in swings:
        said |= {swing.swing, swing.reason or "", swing.excluded or "", swing.detector.partition(", ")[2]}
        said |= {*swing.warnings, *swing.by_hand}
    return {" ".join(each.split()) for each in said if each} | {"the lens was <doubted>"}


@pytest.fixture
def spoken() -> Iterator[Texts]:
    with speaking(invented_language()):
        yield texts()


@pytest.mark.parametrize(("bats", "count"), [("right", 0), ("left", 1), ("right", 4), ("left", 40)])
@pytest.mark.usefixtures("spoken")
def test_no_word_of_page_and_charts_stands_outside_the_table(tmp_path: Path, bats: str, count: int) -> None:
    text = GOOD.replace('bats = "right"', f'bats = "{bats}"').replace("reps = 10", 'notes = "low hands"') + SAID
    lesson = load_lesson(make_lesson(tmp_path, text, CLIPS))
    swings = invented_swings(lesson, count)
    if count > 6:
        odd = (
            replace(swings[0], excluded="a bunt", detector="motion, ball-1.onnx"),
            replace(swings[1], by_hand=("contact",), warnings=("few frames",), fence_clear_probability=0.995),
            replace(swings[2], fence_clear_probability=0.001),
            LOST,
        )
        swings = (*odd, *swings[4:])
    charts = charts_of(lesson, swings, "metric" if bats == "left" else "us")
    page = lesson_page(lesson, swings, solved_for(lesson), "metric" if bats == "left" else "us", charts)
    seen = visible(page) + [words for chart in charts for words in visible(chart.svg)]
    assert len(seen) > 200  # the page was read: it holds at least so many texts
    assert english_in(seen, own_words(lesson, swings)) == []


def test_english_that_stands_outside_the_table_is_found() -> None:
    with speaking(invented_language()):
        words = [
            say("swing_head", number=3, block="Tee"),
            say("lesson"),
            "12 mph",
            "60 ft",
            "exit speed, mph",
            "Swing 3",
        ]
    assert english_in(words, {"Tee"}) == ["exit speed, mph", "Swing 3"]


@pytest.mark.usefixtures("spoken")
def test_no_word_of_films_and_stills_stands_outside_the_table(
    measured_sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(measured_sample, tmp_path / "lesson"))
    lesson, results = load_lesson(folder), folder / "results"
    swings, solved = read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")
    written: list[str] = []
    draw = ImageDraw.text

    def noted(self: ImageDraw, place: tuple[float, float], words: str, **how: object) -> None:
        written.append(words)
        draw(self, place, words, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(ImageDraw, "text", noted)
    monkeypatch.setattr(encode, "PRESET", "ultrafast")  # a larger file: what is drawn stays the same
    assert write_reel(results / "review", lesson, swings, solved, "us") == ()
    reel = find_reel(results / "review", swings, "us")
    page = lesson_page(lesson, swings, solved, "us", (), reel)
    assert len(written) > 20
    assert english_in(written + visible(page), own_words(lesson, swings) | {str(each) for each in swings}) == []


@pytest.mark.usefixtures("spoken")
def test_no_word_of_a_change_or_of_the_history_stands_outside_the_table(tmp_path: Path) -> None:
    before = group([hit(30 + k / 10, 10 + k / 10) for k in range(12)], "tee")
    after = group([hit(36 + k / 10, 10.3 + k / 10) for k in range(6)], None, first=13)
    words = [change_words(compare(before, after, quantity), "us") for quantity in ("exit_speed", "launch", "misses")]
    words += [change_words(compare(before, group([hit(30)], "toss"), "carry"), "us")]
    svg = chart_svg(draw_history_chart("Robin", series_of(kept(tmp_path, *season(tmp_path, gain_mps=1.0))), "us"))
    months = {"Jan", "Feb", "Mar", "Apr", "May", "Jun"}  # as the system's own language writes them
    assert english_in(words + visible(svg), {"Robin", *months}) == []


def test_no_sentence_stands_in_the_code_of_the_review() -> None:
    names = {
        "offset points",
        "axes fraction",
        "on time",
        "not clear",
        "too few",
        "low quarter",
        "high quarter",
        "well hit",
    }
    notices = {"make.py", "pdf.py", "reel.py"}  # what the coach is told in the terminal is no part of the review
    found = []
    for path in sorted(REVIEW.glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        told = {id(part) for node in ast.walk(tree) if isinstance(node, ast.Raise) for part in ast.walk(node)}
        told |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # docstrings
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
                sentence = re.search(r"[A-Za-z]{2,}[,;:.]? +[A-Za-z]{2,}", node.value)
                if sentence and node.value not in names and path.name not in notices:
                    found.append(f"{path.name}:{node.lineno}: {node.value}")
    assert [each for each in found if not re.search(r": (Delivery \| None|tuple\[Figure, Box\]|block )", each)] == []


def test_every_text_of_the_table_is_used_and_none_is_missing() -> None:
    paths = [*REVIEW.glob("*.py"), REVIEW / "lesson.html.j2", REVIEW.parent / "records" / "wording.py"]
    code = "\n".join(path.read_text(encoding="utf-8") for path in paths)
    named = set(re.findall(r'\bsay\("([^"]+)"', code)) | set(re.findall(r'texts\(\)\["([^"]+)"\]', code))
    named |= set(re.findall(r"\bt\.(\w+)", (REVIEW / "lesson.html.j2").read_text(encoding="utf-8")))
    assert named <= set(ENGLISH)
    begun = tuple(set(re.findall(r'f"(\w+_)\{', code)) | set(re.findall(r't\["(\w+_)" ~', code)))
    for name in ENGLISH:
        assert name in named or f'"{name}"' in code or name.startswith(begun) or name.endswith("_mixed"), name


def test_no_name_of_a_text_is_given_twice() -> None:
    parts = (WORDS, PAGE, STATISTICS, CHARTS, PICTURES)
    names = [name for part in parts for name in part]
    assert sorted(names) == sorted(set(names))
    assert set(names) < set(ENGLISH)


def test_every_word_that_a_record_or_a_lesson_can_hold_has_a_text() -> None:
    points = {*named_points("baseball", 20.0, fence=Fence((80.0,), 2.0)), *FREE_POINTS}
    names = {f"mark_{point}" for point in points} | {f"ball_{kind}" for kind in BALL_KINDS}
    for begun, kinds in (("alone", Outcome), ("word", Outcome), ("word", FlightKind), ("quality", Quality)):
        names |= {f"{begun}_{kind}" for kind in get_args(kinds)}
    names |= {f"field_{side}" for side in get_args(FieldSide)}
    for quantity in get_args(Quantity):
        names |= {f"{begun}_{quantity}" for begun in ("quantity", "more", "less")}
    names |= {f"inside_{quantity}" for quantity in (*ASKED, *ASKED_OF_BLOCKS)}
    for delivery in (*get_args(Delivery), "unstated"):
        names |= {f"{begun}_{delivery}" for begun in ("inside", "delivered")}
    assert names - set(ENGLISH) == set()


def test_a_language_with_three_plurals_has_them() -> None:
    # Polish, as GNU gettext's manual gives it (section Plural forms).
    polish = "n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2"
    with speaking({**ENGLISH, "plural": polish, "drawn_line": "{count} linia | {count} linie | {count} linii"}):
        said = [say("drawn_line", count=count) for count in (1, 3, 5, 12, 22)]
    assert said == ["1 linia", "3 linie", "5 linii", "12 linii", "22 linie"]
    assert say("drawn_line", count=1) == "1 line"  # English again


def test_numbers_in_a_sentence_are_listed_as_people_do() -> None:
    assert [listed(each) for each in ([], ["3"], ["3", "5"], ["3", "5", "8"])] == ["", "3", "3 and 5", "3, 5 and 8"]
