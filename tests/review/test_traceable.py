"""Every number on the take-home page can be followed to swings.jsonl: a reader of that file alone gets the same."""

import json
import random
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import pytest

from balltrack.lesson import Lesson, load_lesson
from balltrack.records.store import read_swings
from balltrack.records.swing import FieldSide, FlightKind, Swing, to_json
from balltrack.review.changes import changes_of
from balltrack.review.page import lesson_page
from balltrack.review.takeaways import takeaways
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, LOST, MISS
from tests.review.test_page import CHART, VOID, solved_for

Record = dict[str, Any]
MPH, FT, INCH = 0.44704, 0.3048, 0.0254  # exact, by definition
UNITS = {"exit_speed_mps": (MPH, 1), "launch_deg": (1.0, 1), "carry_m": (FT, 0), "contact_depth_m": (INCH, 1)}
CLIPS = ("01-tee/001.mp4", "02-toss/001.mp4")


class Numbers(HTMLParser):
    """Each text of a page with the attributes of all that is around it."""

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[tuple[str, dict[str, str]]] = []
        self.texts: list[tuple[str, dict[str, str]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.stack.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            self.stack.pop()

    def handle_data(self, data: str) -> None:
        around: dict[str, str] = {}
        for tag, attributes in self.stack:
            around |= {f"<{tag}>": ""} | attributes
        if "<style>" not in around and "<svg>" not in around:
            self.texts.append((data, around))


def swings_of_a_lesson() -> list[Swing]:
    """Hits of two blocks, drawn once; a miss, a lost one, and one that a person left out."""
    rng = random.Random(5)
    sides: tuple[FieldSide, ...] = ("pull", "middle", "opposite")
    kinds: tuple[FlightKind, ...] = ("ground_ball", "line_drive", "fly_ball")
    swings = []
    for k in range(14):
        block, kind = ("01-tee", "02-toss")[k >= 7], rng.choice(kinds)
        launch_deg = {"ground_ball": 4.0, "line_drive": 17.0, "fly_ball": 33.0}[kind] + rng.uniform(-4, 4)
        swings.append(
            replace(
                HIT,
                swing=f"{block}/001#{k % 7 + 1}",
                clip=f"clips/{block}/001.mp4",
                block=block,
                exit_speed_mps=rng.uniform(25, 40),
                exit_speed_sd_mps=rng.uniform(0.2, 0.9),
                launch_deg=launch_deg,
                spray_deg=rng.uniform(-40, 40),
                contact_sd_m=(0.05, 0.08, 0.03),
                contact_depth_m=rng.uniform(-0.3, 0.4),
                carry_m=rng.uniform(20, 90),
                fence_clear_probability=rng.random(),
                field_side=rng.choice(sides),
                flight=kind,
            )
        )
    swings[3] = replace(MISS, swing="01-tee/001#4")
    swings[9] = replace(LOST, swing="02-toss/001#3", clip="clips/02-toss/001.mp4", block="02-toss")
    swings[11] = replace(swings[11], excluded="a bunt")
    return swings


@pytest.fixture
def told(tmp_path: Path) -> tuple[Lesson, list[Record], Numbers]:
    """A lesson, its swings.jsonl as anybody reads it, and its page made from that file."""
    lesson = load_lesson(make_lesson(tmp_path, GOOD, CLIPS))
    path = tmp_path / "swings.jsonl"
    path.write_text("".join(to_json(swing) + "\n" for swing in swings_of_a_lesson()), encoding="utf-8")
    page = Numbers()
    page.feed(lesson_page(lesson, read_swings(path), solved_for(lesson), "us", (CHART,)))
    return lesson, [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()], page


def rounded(value: float, field: str) -> str:
    scale, decimals = UNITS[field]
    return f"{value / scale:.{decimals}f}"


def numbers_of(around: dict[str, str]) -> list[int]:
    return [int(number) for number in around["data-swings"].split()]


def words_in(page: Numbers, mark: str) -> list[str]:
    """What stands in the elements with some attribute."""
    return [text for text, around in page.texts if mark in around]


HOW: dict[str, Callable[[list[float]], float]] = {
    "median": median,
    "best": max,
    "low quarter": lambda values: float(np.percentile(values, 25)),
    "high quarter": lambda values: float(np.percentile(values, 75)),
}


def test_every_sum_on_the_page_is_what_its_swings_give(told: tuple[Lesson, list[Record], Numbers]) -> None:
    _, records, page = told
    seen = set()
    for text, around in page.texts:
        if "data-how" not in around:
            continue
        how, field, numbers = around["data-how"], around["data-q"], numbers_of(around)
        seen.add(how)
        own = [records[number - 1] for number in numbers]
        assert not any(record["excluded"] for record in own) or field == "excluded"
        if how == "count":
            assert text == str(len(numbers)), field
        elif how == "sum":
            assert text == f"{sum(record[field] for record in own):.1f}"
        elif numbers:
            assert text == rounded(HOW[how]([record[field] for record in own]), field), (field, how)
        else:
            assert text == "-"
    assert {"count", "median", "best", "low quarter"} <= seen


def test_counts_are_of_the_swings_that_are_meant(told: tuple[Lesson, list[Record], Numbers]) -> None:
    _, records, page = told
    counted: dict[str, list[int]] = {}
    for _, around in page.texts:
        if around.get("data-how") == "count":  # the page's head comes first, then its facts, then each block
            counted.setdefault(around["data-q"], numbers_of(around))
    counts = [number for number, record in enumerate(records, 1) if not record["excluded"]]
    hits = [number for number in counts if records[number - 1]["outcome"] == "measured"]
    assert counted["swings"] == counts
    assert counted["no_contact"] == [4]
    assert counted["not_measured"] == [10]
    assert counted["excluded"] == [12]
    for side in ("pull", "middle", "opposite"):
        assert counted[side] == [number for number in hits if records[number - 1]["field_side"] == side]
    for kind in ("ground_ball", "line_drive", "fly_ball", "pop_up"):
        assert counted[kind] == [number for number in hits if records[number - 1]["flight"] == kind]


def test_every_row_of_the_table_is_its_line_of_the_file(told: tuple[Lesson, list[Record], Numbers]) -> None:
    _, records, page = told
    cells: dict[int, dict[str, str]] = {}
    for text, around in page.texts:
        if "data-swing" in around and "data-q" in around:
            cells.setdefault(int(around["data-swing"]), {})[around["data-q"]] = text.strip()
    assert sorted(cells) == [number for number, record in enumerate(records, 1) if not record["excluded"]]
    for number, shown in cells.items():
        record = records[number - 1]
        if record["outcome"] != "measured":
            assert record["reason"] in shown["reason"]
            continue
        for field, sd in (
            ("exit_speed_mps", "exit_speed_sd_mps"),
            ("launch_deg", "launch_sd_deg"),
            ("carry_m", "carry_sd_m"),
        ):
            # Nine in ten of a normal distribution lie within 1.645 standard deviations.
            assert shown[field] == f"{rounded(record[field], field)} ±{rounded(1.645 * record[sd], field)}", number
        way = "L" if record["spray_deg"] < 0 else "R"
        assert shown["spray_deg"].startswith(f"{abs(record['spray_deg']):.1f} {way} ")
        assert shown["fence_clear_probability"] in (
            f"{100 * record['fence_clear_probability']:.0f}",
            "under 1",
            "over 99",
        )
        assert shown["contact_depth_m"].split()[0] == f"{abs(record['contact_depth_m']) / INCH:.0f}"


def test_sentences_are_those_of_the_statistics_and_name_their_swings(
    told: tuple[Lesson, list[Record], Numbers], tmp_path: Path
) -> None:
    lesson, _, page = told
    swings = read_swings(tmp_path / "swings.jsonl")
    changes = changes_of(lesson, swings, "us")
    lines = [line for pair in changes.told for line in pair.lines]
    home = takeaways(lesson, swings, "us")
    assert words_in(page, "data-takeaway") == [each.words for each in home]
    assert words_in(page, "data-change") == [line.words for line in lines]
    assert words_in(page, "data-pair") == [pair.title for pair in changes.told]
    behind = [around["data-swings"] for _, around in page.texts if around.get("class") == "from"]
    wanted = [*(each.numbers for each in home), *(line.numbers for line in lines)]
    assert set(behind) == {" ".join(map(str, numbers)) for numbers in wanted}
    assert changes.told, "a lesson of seven swings a block has something to compare"


def test_no_number_stands_on_the_page_that_cannot_be_followed(told: tuple[Lesson, list[Record], Numbers]) -> None:
    lesson, records, page = told
    names = {lesson.player.name, *(block.title for block in lesson.blocks), *(record["swing"] for record in records)}
    # data-camera: the camera's own numbers, and the program's; they are of no swing.
    marks = ("data-q", "data-swings", "data-takeaway", "data-change", "data-pair", "data-few", "data-camera")
    loose = []
    for text, around in page.texts:
        for name in sorted(names, key=len, reverse=True):
            text = text.replace(name, "")
        numbered = around.get("class") == "nr" and int(text) == int(around["data-swing"])
        if re.search(r"\d", text) and not numbered and not any(mark in around for mark in marks):
            loose.append(text)
    assert loose == []
