"""A person marks the field with fingers, on a phone: taps place marks, two fingers zoom, one moves the picture."""

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import CDPSession, Page, expect

from balltrack.units import Floats
from tests.desk.browser import browsing
from tests.desk.served import served
from tests.desk.test_marking_in_browser import PLACES_M, SAMPLE, by_hand, on_screen, seen_px, settled

PHONE_PX = (390, 844)  # a usual phone held upright, in pixels of the page: common practice, no source
PLATE = tuple(words for words in PLACES_M if words.startswith("plate"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "clips" / "01-tee").mkdir(parents=True)
    shutil.copy(SAMPLE / "clips" / "01-tee" / "swing-01.mp4", tmp_path / "clips" / "01-tee" / "one.mp4")
    shutil.copy(SAMPLE / "lesson.toml", tmp_path)
    text = (tmp_path / "lesson.toml").read_text()
    (tmp_path / "lesson.toml").write_text(text[: text.index("[camera]")])
    return tmp_path


@pytest.fixture
def page(folder: Path) -> Iterator[Page]:
    with served(folder) as address, browsing(address, PHONE_PX, touch=True) as page:
        page.goto(f"{address}/marks")
        by_hand(page)
        page.locator("#view").scroll_into_view_if_needed()
        yield page


def touch(line: CDPSession, kind: str, *fingers: tuple[float, float]) -> None:
    points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(fingers)]
    line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def spread(page: Page, at: tuple[float, float], times: float) -> None:
    """Two fingers that go apart about a place on the screen."""
    line = page.context.new_cdp_session(page)
    x, y = at
    steps = np.geomspace(10.0, 10.0 * times, 8)
    touch(line, "touchStart", (x - steps[0], y), (x + steps[0], y))
    for half in steps[1:]:
        touch(line, "touchMove", (x - half, y), (x + half, y))
    touch(line, "touchEnd")
    line.detach()


def slide(page: Page, start: tuple[float, float], stop: tuple[float, float]) -> None:
    """One finger from place to place."""
    line = page.context.new_cdp_session(page)
    touch(line, "touchStart", start)
    for share in (0.2, 0.6, 1.0):
        touch(line, "touchMove", (start[0] + share * (stop[0] - start[0]), start[1] + share * (stop[1] - start[1])))
    touch(line, "touchEnd")
    line.detach()


def tap(page: Page, pixel: Floats) -> None:
    page.touchscreen.tap(*on_screen(page, pixel))


def close_to(page: Page) -> None:
    """Zoom until the plate fills most of the screen's width, so that fingers reach each corner by itself."""
    middle = np.mean([seen_px(PLACES_M[words]) for words in PLATE], axis=0)
    page.get_by_role("button", name="Whole picture").tap()
    for times in (5.0, 2.5):
        spread(page, on_screen(page, middle), times)
    box = page.locator("#view").bounding_box()
    assert box is not None
    aim = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    slide(page, on_screen(page, middle), aim)
    # One finger carries the picture along: by as much as it went, but for what it takes to be no tap.
    assert on_screen(page, middle) == pytest.approx(aim, abs=10)


def placed(page: Page) -> list[list[float]]:
    """The marks as the page lists them, in the order in which they were made."""
    cells = page.locator("#list tbody tr td:nth-child(2)").all_inner_texts()
    return [[float(each) for each in cell.split(",")] for cell in cells]


def test_fingers_move_and_zoom_and_only_taps_place_marks(page: Page, folder: Path) -> None:
    close_to(page)
    scale = page.evaluate("view.scale")
    assert scale > 1
    assert placed(page) == []  # neither moving nor zooming is a tap
    for number, words in enumerate(PLATE, start=1):
        expect(page.locator("#chosen")).to_have_text(words)
        tap(page, seen_px(PLACES_M[words]))
        expect(page.locator("#list tbody tr")).to_have_count(number)
        settled(page)
    # A finger's place is told in whole pixels of the page; the chalk's corner, to which a mark then goes, is found to
    # half a pixel of the picture.
    for found, words in zip(placed(page), PLATE, strict=True):
        assert found == pytest.approx(seen_px(PLACES_M[words]), abs=max(1.0, 1 / scale))
    page.get_by_role("button", name="Save").tap()
    expect(page.locator("#saved")).to_have_text("Saved in lesson.toml.")
    marks = tomllib.loads((folder / "lesson.toml").read_text())["camera"]["marks"]
    assert [mark["point"] for mark in marks[:3]] == ["plate_tip", "plate_left", "plate_right"]
    assert len(marks) == len(PLATE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE_PX[0]


def test_a_finger_on_a_mark_takes_hold_of_it_and_carries_it(page: Page) -> None:
    close_to(page)
    tap(page, seen_px((0.0, 0.0)))
    expect(page.locator("#list tbody tr")).to_have_count(1)
    settled(page)
    (before,) = placed(page)
    scale = page.evaluate("view.scale")
    x, y = on_screen(page, np.array(before))
    slide(page, (x + 8, y), (x + 48, y - 30))  # beside its middle, as fingers are
    settled(page)
    (after,) = placed(page)
    assert after == pytest.approx([before[0] + 40 / scale, before[1] - 30 / scale], abs=2 / scale + 0.1)
