"""Review on the desk: words typed there stand in lesson.toml and on the take-home page, in a real browser too."""

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import expect

from balltrack.lesson.edit import version
from tests.desk.browser import browsing
from tests.desk.served import asking, served

SWING = "01-tee/swing-03#1"


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


@pytest.fixture
def page(folder: Path) -> Iterator[httpx.Client]:
    with asking(folder) as client:
        client.headers.update({"accept": "application/json"})
        yield client


def change(folder: Path, *section: str, **more: Any) -> dict[str, Any]:
    """A section of the page as it would be typed now."""
    text = (folder / "lesson.toml").read_text()
    return {"section": list(section), "version": version(text, section), "texts": {}} | more


def said(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "lesson.toml").read_text())


def test_words_go_into_the_file_and_the_rest_of_it_stays(page: httpx.Client, folder: Path) -> None:
    before = said(folder)
    changes = [
        change(folder, "lesson", texts={"date": "2026-05-30", "notes": "Well done.\nRest now."}),
        change(folder, "plan", texts={"words": ""}, drills=[{"name": "High tee", "repetitions": "3 x 8", "words": ""}]),
        change(folder, "blocks", "01-tee", texts={"notes": "calm"}),
        change(folder, "swings", SWING, texts={"notes": "this one"}),
    ]
    assert page.put("words", json={"changes": changes}).status_code == 200
    after = said(folder)
    assert str(after.pop("lesson")) == "{'date': datetime.date(2026, 5, 30), 'notes': 'Well done.\\nRest now.'}"
    assert after.pop("plan") == {"drills": [{"name": "High tee", "repetitions": "3 x 8"}]}
    assert after.pop("swings") == {SWING: {"notes": "this one"}}
    assert after["blocks"]["01-tee"].pop("notes") == "calm"
    assert after == before


@pytest.mark.parametrize(
    ("section", "more", "words"),
    [
        (("lesson",), {"texts": {"date": "yesterday"}}, "lesson.date"),
        (("plan",), {"drills": [{"words": "no name"}]}, "plan.drills[1].name is missing"),
        (("player",), {"texts": {"name": "Kim"}}, "no part of this page"),
        (("blocks", "01-tee"), {"texts": {"delivery": "live"}}, "no part of this page"),
    ],
)
def test_what_may_not_stand_there_is_refused_and_nothing_written(
    page: httpx.Client, folder: Path, section: tuple[str, ...], more: dict[str, Any], words: str
) -> None:
    before = (folder / "lesson.toml").read_bytes()
    answer = page.put("words", json={"changes": [change(folder, *section, **more)]})
    assert answer.status_code == 422
    assert words in answer.json()["error"]
    assert (folder / "lesson.toml").read_bytes() == before


def test_words_typed_over_what_another_wrote_are_refused(page: httpx.Client, folder: Path) -> None:
    stale = change(folder, "lesson", texts={"notes": "mine"})
    assert page.put("words", json={"changes": [change(folder, "lesson", texts={"notes": "hers"})]}).status_code == 200
    assert page.put("words", json={"changes": [stale]}).status_code == 409
    assert said(folder)["lesson"] == {"notes": "hers"}


def test_a_coach_writes_words_and_hands_the_page_over(folder: Path) -> None:
    with served(folder) as address, browsing(f"{address}/take-home") as page:
        page.goto(f"{address}/take-home")
        page.get_by_label("To the player").fill("You let it travel today.")
        page.get_by_role("button", name="Add a drill").click()
        page.get_by_label("Drill", exact=True).fill("Slow toss")
        page.get_by_label("What to mind").fill("who tosses sits behind a screen")
        page.get_by_label("Swing 1").fill("<b>keep this</b>")
        page.get_by_role("button", name="Save and make the page").click()
        expect(page.locator("#made")).to_contain_text("The page is made.")
        page.goto(f"{address}/review/")
        expect(page.get_by_text("You let it travel today.")).to_be_visible()
        expect(page.get_by_text("who tosses sits behind a screen")).to_be_visible()
        expect(page.get_by_text("<b>keep this</b>")).to_be_visible()
        expect(page.locator("svg").first).to_be_visible()
    assert (folder / "results" / "review" / "review.pdf").read_bytes().startswith(b"%PDF")
