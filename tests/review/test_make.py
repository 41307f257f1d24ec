"""The review made again: with words typed since, as a PDF on the reader's paper, with films; and what it refuses."""

import shutil
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from balltrack.cli import main
from balltrack.errors import RecordError
from balltrack.lesson import load_lesson
from balltrack.records.camera_file import write_camera
from balltrack.records.swing import to_json
from balltrack.records.table import Units
from balltrack.review.make import Wish, make_review
from balltrack.review.reel import find_reel
from balltrack.video import encode
from balltrack.video.clip import probe
from tests.desk.browser import browsing
from tests.lesson.lessons import GOOD, make_lesson
from tests.lesson.test_words import SAID
from tests.records.swings import HIT, LOST, MISS
from tests.review.test_page import solved_for

PAGE_ONLY = Wish(pdf=False, clips=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A lesson as if measured: three swings on record."""
    folder = make_lesson(tmp_path / "lesson")
    lesson = load_lesson(folder)
    write_camera(folder / "results" / "camera.json", solved_for(lesson), lesson.marks)
    swings = [replace(each, settings_hash=lesson.settings_hash) for each in (MISS, HIT, LOST)]
    (folder / "results" / "swings.jsonl").write_text("".join(to_json(each) + "\n" for each in swings))
    return folder


def page_of(folder: Path) -> str:
    return (folder / "results" / "review" / "index.html").read_text(encoding="utf-8")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["review", *words])


def test_words_written_after_measuring_are_on_the_page_and_ask_for_no_new_measuring(folder: Path) -> None:
    (folder / "lesson.toml").write_text(GOOD + SAID)
    made = make_review(folder, PAGE_ONLY)
    assert made.notices == ()
    assert "Twice a week." in page_of(folder)
    assert all(path.is_file() for path in made.files)


def test_the_coach_is_told_what_does_not_fit(folder: Path) -> None:
    text = GOOD.replace("275", "260") + '[swings."01-tee/001#7"]\nnotes = "lost"\n'
    (folder / "lesson.toml").write_text(text)
    unknown, changed = make_review(folder, PAGE_ONLY).notices
    assert '[swings."01-tee/001#7"]' in unknown
    assert "balltrack measure" in changed


@pytest.mark.parametrize(("units", "size"), [("us", (612, 792)), ("metric", (595.3, 841.9))])
def test_the_pdf_is_on_the_reader_s_paper(folder: Path, units: Units, size: tuple[float, float]) -> None:
    # In points of 1/72 in: Letter is 8.5 x 11 in, A4 is 210 x 297 mm (ISO 216).
    make_review(folder, Wish(units=units, clips=False))
    pdf = PdfReader(BytesIO((folder / "results" / "review" / "review.pdf").read_bytes()))
    assert len(pdf.pages) >= 2
    for page in pdf.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.1)
    assert "Robin Example" in pdf.pages[0].extract_text()
    assert ("km/h" in pdf.pages[0].extract_text()) == (units == "metric")


def test_without_pango_the_page_is_made_and_one_line_says_what_to_install(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)  # as where it cannot be loaded
    result = run(str(folder), "--no-clips")
    assert result.exit_code == 0
    assert "libpango" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert "67.1" in page_of(folder)


def test_a_lesson_that_was_not_measured_is_one_line_and_status_1(tmp_path: Path) -> None:
    result = run(str(make_lesson(tmp_path)))
    assert result.exit_code == 1
    assert "balltrack measure" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    with pytest.raises(RecordError):
        make_review(tmp_path, PAGE_ONLY)


def test_no_part_of_the_page_is_wider_than_the_screen_of_phone_or_computer(folder: Path) -> None:
    (folder / "lesson.toml").write_text(GOOD.replace("Robin Example", "R" * 80) + SAID)
    make_review(folder, PAGE_ONLY)
    address = (folder / "results" / "review" / "index.html").as_uri()
    with browsing(address, (390, 800)) as page:
        for width_px in (390, 1280):
            page.set_viewport_size({"width": width_px, "height": 800})
            page.goto(address)
            assert page.evaluate("document.documentElement.scrollWidth") <= width_px
            assert page.locator("svg[role=img]").count() >= 2


def test_films_and_stills_are_made_and_no_longer_shown_once_the_swings_have_changed(
    measured_sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(encode, "PRESET", "ultrafast")  # larger files, sooner
    folder = Path(shutil.copytree(measured_sample, tmp_path / "lesson"))
    result = run(str(folder), "--no-pdf")
    assert (result.exit_code, result.stderr) == (0, "")
    review = folder / "results" / "review"
    page = page_of(folder)
    for name in ("swing-001.mp4", "swing-002.mp4", "side-by-side-001-002.mp4"):
        assert f'src="clips/{name}"' in page
        assert probe(review / "clips" / name).duration_s > 1
    assert page.count("data:image/jpeg;base64,") == 3  # the strip, and both swings at contact
    swings = (HIT, MISS)
    assert find_reel(review, swings, "us").films == ()
