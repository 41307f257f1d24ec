"""A still on which the coach drew stands in the page and on paper, with the marks where they were drawn."""

import base64
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from balltrack.batch import refresh_results
from balltrack.lesson import load_lesson
from balltrack.records.camera_file import read_camera
from balltrack.records.drawings import Drawing, DrawnStill, read_drawings, write_drawings
from balltrack.records.store import read_swings
from balltrack.review.drawn_stills import drawn_stills, lost_drawings, when_words
from balltrack.review.make import Wish, make_review
from balltrack.review.reel import Still
from balltrack.review.sheet import ACCENT
from balltrack.video.clip import probe
from balltrack.video.stamps import frame_times_s

SWING, CLIP = "01-tee/swing-03#1", "clips/01-tee/swing-03.mp4"
VIEW_PX = (400, 200, 960, 540)  # half of the picture's width: shown 1280 wide, each pixel as 4/3
LINE = Drawing("line", ((700.0, 300.0), (700.0, 600.0)))


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


def picture_s(folder: Path, off_s: float = 0.0) -> float:
    """The time of the picture nearest to so long after contact."""
    swing = next(each for each in read_swings(folder / "results" / "swings.jsonl") if each.swing == SWING)
    assert swing.contact_s is not None
    times_s = frame_times_s(probe(folder / CLIP))
    return float(times_s[np.abs(times_s - swing.contact_s - off_s).argmin()])


def draw(folder: Path, *marks: Drawing, off_s: float = 0.0, view_px: tuple[int, int, int, int] = VIEW_PX) -> None:
    still = DrawnStill(swing=SWING, clip=CLIP, time_s=picture_s(folder, off_s), view_px=view_px, marks=marks)
    write_drawings(folder / "results", [*read_drawings(folder / "results"), still])


def shown(folder: Path) -> tuple[Still, ...]:
    results = folder / "results"
    return drawn_stills(
        load_lesson(folder), read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")
    )


def lost(folder: Path) -> tuple[str, ...]:
    results = folder / "results"
    return lost_drawings(
        load_lesson(folder), read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")
    )


def pixels(still: Still) -> NDArray[np.int_]:
    """(h, w, 3) blue, green, red."""
    data = np.frombuffer(base64.b64decode(still.uri.partition(",")[2]), np.uint8)
    picture = cv2.imdecode(data, cv2.IMREAD_COLOR)
    assert picture is not None
    return picture.astype(np.int_)


def test_a_line_is_where_it_was_drawn_on_the_part_that_was_shown(folder: Path) -> None:
    draw(folder, LINE)
    (still,) = shown(folder)
    picture = pixels(still)
    assert picture.shape == (720, 1280, 3)
    inked = np.abs(picture - np.array(ACCENT.bgr)).max(axis=2) < 60  # JPEG blurs colours
    # u 700 is (700 - 400 + 0.5) * 4/3 - 0.5 = 400.2 of the shown part; v 300 to 600 is 133.5 to 533.5.
    along = np.flatnonzero(inked[:, 398:403].all(axis=1))
    assert (along[0], along[-1]) == (pytest.approx(133.5, abs=6), pytest.approx(533.5, abs=6))  # round ends, rim
    assert len(along) == along[-1] - along[0] + 1
    across = np.flatnonzero(inked[200:500, 380:420].all(axis=0)) + 380
    assert across.mean() == pytest.approx(400.2, abs=1)


def test_stills_stand_in_order_with_words_for_who_does_not_see_them(folder: Path) -> None:
    draw(folder, LINE, Drawing("words", ((500.0, 300.0),), "hands first"), Drawing("words", ((500.0, 400.0),), "low"))
    draw(folder, LINE, LINE, Drawing("arrow", ((500.0, 300.0), (600.0, 300.0))), off_s=-0.2)
    early, at_contact = shown(folder)
    assert early.numbers == at_contact.numbers == (1,)
    assert early.when.endswith("ms before contact")
    assert 190 <= int(early.when.split()[0]) <= 210  # pictures lie 17 ms apart
    assert early.words == f"Swing 1, {early.when}. Drawn on it: 2 lines and 1 arrow."
    assert at_contact.words == (
        f"Swing 1, {at_contact.when}. The coach wrote: “hands first”, “low”. Drawn on it: 1 line."
    )


def test_the_page_and_the_pdf_hold_the_still_and_what_is_typed_is_never_run(folder: Path) -> None:
    bare = make_review(folder, Wish(clips=False))
    without = (folder / "results" / "review" / "review.pdf").read_bytes().count(b"/Subtype /Image")
    draw(folder, Drawing("words", ((500.0, 300.0),), '"><script>alert(1)</script>'))
    made = make_review(folder, Wish(clips=False))
    assert made.notices == bare.notices
    page = (folder / "results" / "review" / "index.html").read_text(encoding="utf-8")
    assert page.count('<img src="data:image/jpeg;base64,') == 1
    assert "<script" not in page
    assert "The coach wrote: “&#34;&gt;&lt;script&gt;" in page
    assert (folder / "results" / "review" / "review.pdf").read_bytes().count(b"/Subtype /Image") == without + 1


def test_the_page_made_anew_after_a_correction_shows_the_still_too(folder: Path) -> None:
    draw(folder, LINE)
    refresh_results(folder)
    assert len(read_drawings(folder / "results")) == 1
    page = (folder / "results" / "review" / "index.html").read_text(encoding="utf-8")
    assert page.count('<img src="data:image/jpeg;base64,') == 1


def test_what_can_be_shown_no_more_is_told_and_keeps_no_page_from_being_made(folder: Path) -> None:
    draw(folder, LINE, view_px=(1000, 0, 1280, 720))  # of a larger picture than this film has
    (told,) = lost(folder)
    assert f"is of another film than {CLIP}" in told
    assert shown(folder) == ()
    assert told in make_review(folder, Wish(pdf=False, clips=False)).notices
    (folder / "results" / "drawings.jsonl").write_text("no still\n")
    (told,) = lost(folder)
    assert "drawings.jsonl line 1: " in told
    assert told in make_review(folder, Wish(pdf=False, clips=False)).notices


def test_times_are_said_about_contact() -> None:
    assert when_words(-0.0402) == "40 ms before contact"
    assert when_words(0.1) == "100 ms after contact"
    assert when_words(-0.0004) == "at contact"
