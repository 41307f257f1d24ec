"""A person looks through the swings, drags a ball, and sees the record change: in a real browser."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from tests.desk.browser import browsing
from tests.desk.served import served

HIT = "01-tee/swing-03#1"
KEPT_MS = 30_000  # two cores may be busy


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


@pytest.fixture
def page(folder: Path) -> Iterator[Page]:
    with served(folder) as address, browsing(address) as page:
        page.goto(f"{address}/swings")
        yield page


def recorded(folder: Path) -> Swing:
    return next(each for each in read_swings(folder / "results" / "swings.jsonl") if each.swing == HIT)


def open_hit(page: Page) -> None:
    page.locator(f'button.open[data-swing="{HIT}"]').click()
    expect(page.locator("#viewer-name")).to_have_text(f"1. {HIT}", timeout=KEPT_MS)
    expect(page.locator("#swing-canvas")).to_have_attribute(
        "data-shown", page.locator("#slide").input_value(), timeout=KEPT_MS
    )


def step_to(page: Page, ready: Callable[[dict[str, Any] | None], bool]) -> None:
    """Step on from contact, by key, to a frame whose ball is as asked for."""
    for _ in range(40):
        if ready(page.evaluate("ballAt(k)")):
            break
        page.keyboard.press("ArrowRight")
    expect(page.locator("#swing-canvas")).to_have_attribute(
        "data-shown", page.locator("#slide").input_value(), timeout=KEPT_MS
    )


def drag_ball(page: Page, right_px: int, down_px: int) -> None:
    """By so many pixels of the screen."""
    spot = page.evaluate("picture.onScreen(ballAt(k))")
    page.mouse.move(spot["x"], spot["y"])
    page.mouse.down()
    page.mouse.move(spot["x"] + right_px / 2, spot["y"] + down_px / 2)
    page.mouse.move(spot["x"] + right_px, spot["y"] + down_px)
    page.mouse.up()


def test_a_ball_dragged_in_its_frame_changes_the_record_and_undo_brings_it_back(page: Page, folder: Path) -> None:
    before = recorded(folder)
    open_hit(page)
    step_to(page, lambda ball: ball is not None and ball["used"])
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    at = page.evaluate("ballAt(k)")
    scale = page.evaluate("picture.scale")
    drag_ball(page, 30, 12)
    expect(page.locator("#said")).to_have_text("Kept. By hand: 1 ball position set.", timeout=KEPT_MS)
    changed = recorded(folder)
    assert changed.by_hand == ("1 ball position set",)
    assert changed.frames_used == (before.frames_used or 0) - 1
    (line,) = (folder / "results/tracks/01-tee/swing-03.hand.csv").read_text().splitlines()[1:]
    u, v = (float(cell) for cell in line.split(",")[1:3])
    # The mouse moves in whole pixels of the screen: half a one, and rounding.
    assert (u, v) == pytest.approx((at["u"] + 30 / scale, at["v"] + 12 / scale), abs=0.6 / scale)
    expect(page.locator("#rows")).to_contain_text("By hand: 1 ball position set", timeout=KEPT_MS)
    expect(page.locator("#numbers")).to_contain_text(str(changed.frames_used))

    page.locator("#undo").click()
    expect(page.locator("#said")).to_have_text("Kept. Nothing is by hand.", timeout=KEPT_MS)
    assert recorded(folder) == before


def test_by_keys_alone_a_ball_is_set_taken_out_and_a_swing_left_out(page: Page, folder: Path) -> None:
    open_hit(page)
    step_to(page, lambda ball: ball is not None and ball["used"])
    page.keyboard.press("Delete")
    expect(page.locator("#said")).to_have_text("Kept. By hand: 1 ball position taken out.", timeout=KEPT_MS)
    page.keyboard.press("b")
    page.keyboard.press("Enter")  # where the flight has it
    expect(page.locator("#said")).to_have_text("Kept. By hand: 1 ball position set.", timeout=KEPT_MS)
    expect(page.locator("#frame-words")).to_contain_text("ball by hand")
    page.keyboard.press("x")
    page.keyboard.type("a bunt")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("excluded", timeout=KEPT_MS)
    assert (recorded(folder).excluded, recorded(folder).by_hand) == ("a bunt", ("1 ball position set", "excluded"))
    expect(page.locator("#tally")).to_contain_text("1 more left out", timeout=KEPT_MS)
    expect(page.locator("#ball-1")).to_have_count(0, timeout=KEPT_MS)


def test_rows_and_dots_point_at_each_other_and_nothing_is_wider_than_a_phone(page: Page) -> None:
    dot, row = page.locator("#ball-1"), page.locator('#rows tr[data-number="1"]').first
    expect(dot).to_have_class("dot", timeout=KEPT_MS)  # once the chart is drawn
    row.hover()
    expect(dot).to_have_class("dot lit", timeout=KEPT_MS)
    page.locator("h1").hover()
    expect(dot).to_have_class("dot")
    dot.locator(".reach").hover()
    expect(row).to_have_class("lit")
    page.locator("h1").hover()
    dot.focus()
    expect(row).to_have_class("lit")
    page.keyboard.press("Enter")
    expect(page.locator("#viewer-name")).to_have_text(f"1. {HIT}", timeout=KEPT_MS)
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_tab_that_did_not_see_the_last_correction_is_told_so_and_overwrites_nothing(page: Page, folder: Path) -> None:
    assert page.context.browser is not None
    other = page.context.browser.new_page()
    other.goto(page.url)
    for each in (page, other):
        open_hit(each)
    page.locator("#miss").click()
    expect(page.locator("#said")).to_contain_text("Kept", timeout=KEPT_MS)
    other.locator("#reason").fill("late")
    other.locator("#exclude").click()
    expect(other.locator("#said")).to_contain_text("corrected elsewhere", timeout=KEPT_MS)
    assert recorded(folder).by_hand == ("miss",)
    other.locator("#reload").click()
    expect(other.locator("#numbers")).to_contain_text("no contact", timeout=KEPT_MS)
