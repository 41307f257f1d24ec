"""Stills on the desk: a coach draws in a real browser, by mouse, finger and keys, and the review shows it."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import FloatRect, Page, expect

from balltrack.records.drawings import Drawing, read_drawings
from tests.desk.browser import browsing
from tests.desk.served import asking, served
from tests.desk.test_marking_by_touch import PHONE_PX, touch

SWING, CLIP = "01-tee/swing-03#1", "clips/01-tee/swing-03.mp4"


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


@pytest.fixture
def asked(folder: Path) -> Iterator[httpx.Client]:
    with asking(folder) as client:
        client.headers.update({"accept": "application/json"})
        yield client


def opened(page: Page, address: str) -> FloatRect:
    """Open the first swing; where its still is on the screen."""
    page.goto(f"{address}/stills?swing={SWING.replace('#', '%23')}")
    shown(page)
    return place(page)


def place(page: Page) -> FloatRect:
    box = page.locator("#still").bounding_box()
    assert box is not None
    return box


def shown(page: Page) -> None:
    expect(page.locator("body")).to_have_attribute("data-ready", "yes")
    expect(page.locator("#still")).to_have_attribute("data-shown", page.locator("#slide").input_value())


def drag(page: Page, start: tuple[float, float], stop: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + stop[0]) / 2, (start[1] + stop[1]) / 2)
    page.mouse.move(*stop)
    page.mouse.up()


def finger(page: Page, start: tuple[float, float], stop: tuple[float, float]) -> None:
    """A finger that draws and stops before it is lifted: after a swipe a browser takes the next tap for its end."""
    line = page.context.new_cdp_session(page)
    touch(line, "touchStart", start)
    touch(line, "touchMove", ((start[0] + stop[0]) / 2, (start[1] + stop[1]) / 2))
    for _ in range(5):
        touch(line, "touchMove", stop)
        page.wait_for_timeout(50)
    touch(line, "touchEnd")
    line.detach()


def marks(folder: Path) -> tuple[Drawing, ...]:
    (still,) = read_drawings(folder / "results")
    return still.marks


def kept(page: Page) -> None:
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#said")).to_contain_text("Kept.")


def test_a_coach_draws_an_arrow_and_words_and_the_review_shows_them(folder: Path) -> None:
    with served(folder) as address, browsing(address, (1280, 1100)) as page:  # high enough to scroll nowhere
        box = opened(page, address)
        page.locator("#back").click()
        shown(page)
        view = page.evaluate("picture.view.concat(picture.scale)")
        start, stop = (box["x"] + 300, box["y"] + 200), (box["x"] + 420, box["y"] + 240)
        drag(page, start, stop)
        page.get_by_role("button", name="Words").click()
        page.mouse.click(box["x"] + 100, box["y"] + 80)
        page.keyboard.type("hands <b>first</b>")
        page.keyboard.press("Enter")
        expect(page.locator("#marks button")).to_have_text(["Arrow", "“hands <b>first</b>”"])
        kept(page)
        expect(page.locator("#stills img")).to_have_js_property("complete", True)
        assert page.locator("#stills img").evaluate("image => image.naturalWidth") == 1280

        page.goto(f"{address}/take-home")
        page.get_by_role("button", name="Save and make the page").click()
        expect(page.locator("#made")).to_contain_text("The page is made.")
        page.goto(f"{address}/review/")
        picture = page.get_by_role("img", name="The coach wrote: “hands <b>first</b>”. Drawn on it: 1 arrow.")
        expect(picture).to_be_visible()
        assert picture.evaluate("image => image.naturalWidth") == 1280
    (still,) = read_drawings(folder / "results")
    assert (still.swing, still.clip) == (SWING, CLIP)
    arrow, words = still.marks
    left, top, _, scale = view
    # A place on the screen is (pixel + 0.5 - left) * scale; the mouse moves in whole pixels of the screen.
    for point, (x, y) in zip(arrow.points_px, (start, stop), strict=True):
        expected = ((x - box["x"]) / scale + left - 0.5, (y - box["y"]) / scale + top - 0.5)
        assert point == pytest.approx(expected, abs=0.6 / scale + 0.1)
    assert words.words == "hands <b>first</b>"


def test_undo_delete_and_taking_out_leave_nothing_behind(folder: Path) -> None:
    with served(folder) as address, browsing(address) as page:
        box = opened(page, address)
        x, y = box["x"], box["y"]
        drag(page, (x + 300, y + 200), (x + 420, y + 240))
        page.get_by_role("button", name="Line").click()
        drag(page, (x + 200, y + 100), (x + 200, y + 300))
        page.keyboard.press("Control+z")
        expect(page.locator("#marks button")).to_have_text(["Arrow"])
        page.get_by_role("button", name="Move").click()
        drag(page, (x + 360, y + 220), (x + 400, y + 260))  # the arrow, by its middle
        kept(page)
        (arrow,) = marks(folder)
        scale = page.evaluate("picture.scale")
        (u0, v0), (u1, v1) = arrow.points_px
        assert (u1 - u0, v1 - v0) == pytest.approx((120 / scale, 40 / scale), abs=0.3)  # moved as a whole
        page.get_by_role("button", name="Delete").click()
        expect(page.locator("#no-marks")).to_be_visible()
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#said")).to_have_text("As kept.")
        page.get_by_role("button", name="Take out").click()
        expect(page.locator("#no-stills")).to_be_visible()
        assert read_drawings(folder / "results") == ()
        page.get_by_role("button", name="Undo").click()
        kept(page)
    assert marks(folder) == (arrow,)


def test_by_keys_alone_an_arrow_is_drawn_named_and_kept(folder: Path) -> None:
    with served(folder) as address, browsing(address) as page:
        opened(page, address)
        page.locator("#still").focus()
        assert page.locator("#still").evaluate("each => getComputedStyle(each).outlineStyle") == "solid"
        page.keyboard.press("PageDown")
        shown(page)
        for key in ("ArrowLeft", "ArrowLeft", "Enter", "ArrowRight", "ArrowRight", "ArrowRight", "ArrowUp", "Enter"):
            page.keyboard.press(key)
        expect(page.locator("#marks button")).to_have_text(["Arrow"])
        page.locator('[data-tool="words"]').focus()
        page.keyboard.press("Enter")
        page.locator("#still").focus()
        page.keyboard.press("Enter")
        page.keyboard.type("low")
        page.keyboard.press("Enter")
        page.locator("#keep").focus()
        page.keyboard.press("Enter")
        expect(page.locator("#said")).to_contain_text("Kept.")
        scale = page.evaluate("picture.scale")
    arrow, words = marks(folder)
    (u0, v0), (u1, v1) = arrow.points_px
    assert (u1 - u0, v1 - v0) == pytest.approx((30 / scale, -10 / scale), abs=0.11)  # ten pixels of the screen a key
    assert words.words == "low"


def test_on_a_phone_a_finger_draws_and_types_and_nothing_is_wider(folder: Path) -> None:
    with served(folder) as address, browsing(address, PHONE_PX, touch=True) as page:
        opened(page, address)
        page.locator("#still").scroll_into_view_if_needed()
        box = place(page)
        finger(page, (box["x"] + 60, box["y"] + 60), (box["x"] + 160, box["y"] + 90))
        page.get_by_role("button", name="Words").tap()
        page.touchscreen.tap(box["x"] + 30, box["y"] + 30)
        expect(page.locator("#words")).to_be_focused()
        page.keyboard.type("still head")
        page.get_by_role("button", name="Done").tap()
        expect(page.locator("#marks button")).to_have_text(["Arrow", "“still head”"])
        kept(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE_PX[0]
    assert [mark.kind for mark in marks(folder)] == ["arrow", "words"]


def wish(asked: httpx.Client, **more: Any) -> dict[str, Any]:
    """A still as the page would send it now."""
    one = asked.get("stills/one", params={"swing": SWING}).json()
    arrow = {"kind": "arrow", "points": [[700, 300], [800, 300]]}
    sent = {"version": one["version"], "swing": SWING, "time": one["times"][5], "view": one["view"], "marks": [arrow]}
    return sent | more


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"swing": "../../secret#1"}, "no swing with pictures here"),
        ({"swing": ""}, "no swing with pictures here"),
        ({"time": 99.0}, "no picture at 99.000 s"),
        ({"view": [0, 0, 5000, 2000]}, "outside the picture of 1920 × 1080"),
        ({"view": [-10, 0, 960, 540]}, "outside the picture of 1920 × 1080"),
        ({"marks": [{"kind": "arrow", "points": [[10, 10], [2000, 10]]}]}, "a mark lies outside"),
        ({"marks": [{"kind": "arrow", "points": [[10, 10]]}]}, "arrow has 2 to 2 points"),
        ({"marks": [{"kind": "words", "points": [[10, 10]], "words": "a" * 81}]}, "at most 80"),
        ({"marks": [{"kind": "words", "points": [[10, 10]], "words": " \n"}]}, "words belong to"),
        ({"clip": "/etc/passwd"}, "not understood"),
    ],
)
def test_what_fits_no_picture_is_refused_and_nothing_written(
    asked: httpx.Client, folder: Path, more: dict[str, Any], words: str
) -> None:
    answer = asked.put("stills/keep", json=wish(asked, **more))
    assert answer.status_code == 422
    assert words in answer.json()["error"]
    assert read_drawings(folder / "results") == ()


def test_a_page_that_did_not_see_the_last_still_overwrites_nothing(asked: httpx.Client, folder: Path) -> None:
    stale = wish(asked)
    assert asked.put("stills/keep", json=stale).status_code == 200
    assert asked.put("stills/keep", json=stale | {"marks": []}).status_code == 409
    assert asked.put("stills/drop", json={"version": stale["version"], "n": 0}).status_code == 409
    assert len(marks(folder)) == 1


def test_pictures_are_those_of_the_lesson_only(asked: httpx.Client, folder: Path) -> None:
    for path in ("stills/frame?swing=/etc/passwd&k=0", f"stills/frame?swing={SWING.replace('#', '%23')}&k=9999"):
        assert asked.get(path).status_code == 422
    assert asked.get("stills/picture?n=0").status_code == 422
    (folder / CLIP).rename(folder.parent / "outside.mp4")
    (folder / CLIP).symlink_to(folder.parent / "outside.mp4")
    assert asked.get("stills/frame", params={"swing": SWING, "k": 0}).status_code == 422


def test_a_lesson_that_is_not_measured_says_so(folder: Path) -> None:
    shutil.rmtree(folder / "results")
    with asking(folder) as client:
        assert "measure the lesson first" in client.get("stills").text
