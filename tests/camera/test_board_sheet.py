"""The printed board: true to the millimetre in both files, and found by OpenCV in what a browser shows of it."""

import re
import zlib
from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest

from balltrack.camera.board import COLUMNS, ROWS, PrintedBoard
from balltrack.camera.board_sheet import PAPERS, board_sheet, svg, write_sheet
from balltrack.units import Floats
from tests.desk.browser import browsing

# Source: ISO 216 (A4, A3); Letter is 8.5 x 11 in of 25.4 mm. Squares: what the sheet itself says that they measure.
SIZES_MM = {"a4": (210.0, 297.0, 25.0), "letter": (215.9, 279.4, 23.0), "a3": (297.0, 420.0, 36.0)}
POINTS_PER_MM = 72 / 25.4
MM = 0.01  # what a printer or a ruler could never tell


def _boxes_mm(text: str) -> Floats:
    """(n, 4) x, y, width, height of the SVG's black rectangles."""
    boxes = []
    for box in ElementTree.fromstring(text).iter("{http://www.w3.org/2000/svg}rect"):
        if box.get("fill") == "#000":
            boxes.append([float(box.get(name, "nan")) for name in ("x", "y", "width", "height")])
    return np.array(boxes)


def _pdf_boxes_mm(path: Path) -> tuple[Floats, Floats]:
    """The page (2,) and (n, 4) x, bottom, width, height of the black rectangles, as the PDF's own operators draw."""
    data = path.read_bytes()
    page = re.search(rb"/MediaBox \[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", data)
    assert page is not None
    drawing = next(
        text
        for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL)
        if b" l\n" in (text := zlib.decompressobj().decompress(stream))
    )
    boxes: list[list[float]] = []
    numbers: list[str] = []
    corners: list[tuple[float, float]] = []
    gray = "1"
    for word in drawing.decode("latin-1").split():
        if re.fullmatch(r"-?[\d.]+", word):
            numbers.append(word)
            continue
        if word == "g":
            gray = numbers[-1]
        elif word in ("m", "l"):
            corners = [*(corners if word == "l" else []), (float(numbers[-2]), float(numbers[-1]))]
        elif word == "f" and gray == "0":
            low, high = np.min(corners, axis=0), np.max(corners, axis=0)
            boxes.append([*low, *(high - low)])
        numbers = []
    return np.array(page.groups(), dtype=float) / POINTS_PER_MM, np.array(boxes) / POINTS_PER_MM


@pytest.mark.parametrize("name", PAPERS)
def test_the_svg_is_of_the_papers_size_and_its_squares_and_rulers_measure_what_it_says(name: str) -> None:
    width_mm, height_mm, square_mm = SIZES_MM[name]
    text = svg(board_sheet(PAPERS[name]))
    root = ElementTree.fromstring(text)
    assert (root.get("width"), root.get("height")) == (f"{width_mm:g}mm", f"{height_mm:g}mm")
    assert root.get("viewBox") == f"0 0 {width_mm:g} {height_mm:g}"  # so that one unit is one millimetre
    boxes = _boxes_mm(text)
    squares = boxes[np.all(np.abs(boxes[:, 2:] - square_mm) < MM, axis=1)]
    assert len(squares) == COLUMNS * ROWS // 2
    assert np.any(np.abs(boxes[:, 2:] - [100.0, 0.25]).max(axis=1) < MM)  # the ruler across
    assert np.any(np.abs(boxes[:, 2:] - [0.25, 100.0]).max(axis=1) < MM)  # the ruler along
    inside = (boxes[:, :2] > 4.0).all() and (boxes[:, :2] + boxes[:, 2:] < [width_mm - 4.0, height_mm - 4.0]).all()
    assert inside  # printers leave about 4 mm of rim white: common practice, no source
    assert f"Squares of {square_mm:g} mm" in text


@pytest.mark.parametrize("name", PAPERS)
def test_the_pdf_draws_the_same_page_and_the_same_squares(name: str, tmp_path: Path) -> None:
    width_mm, height_mm, square_mm = SIZES_MM[name]
    write_sheet(board_sheet(PAPERS[name]), tmp_path / "board.pdf")
    page_mm, boxes = _pdf_boxes_mm(tmp_path / "board.pdf")
    assert page_mm == pytest.approx([width_mm, height_mm], abs=MM)
    squares = boxes[np.all(np.abs(boxes[:, 2:] - square_mm) < MM, axis=1)]
    assert len(squares) == COLUMNS * ROWS // 2
    drawn = _boxes_mm(svg(board_sheet(PAPERS[name])))
    flipped = np.column_stack([boxes[:, 0], height_mm - boxes[:, 1] - boxes[:, 3], boxes[:, 2:]])
    off_mm = np.abs(drawn[:, None] - flipped[None]).max(axis=2).min(axis=1)  # letters are drawn as shapes, too
    assert off_mm.max() < MM


def test_a_browser_shows_the_board_so_that_its_corners_stand_a_square_apart(tmp_path: Path) -> None:
    # Source: CSS, 96 px to the inch; 25 mm are 94.488 px. 0.05 px in the mean of all: pixels are drawn whole.
    write_sheet(board_sheet(PAPERS["a4"]), tmp_path / "board.svg")
    with browsing((tmp_path / "board.svg").as_uri(), (800, 1130)) as page:
        page.goto((tmp_path / "board.svg").as_uri())
        shown = cv2.imdecode(np.frombuffer(page.screenshot(), np.uint8), cv2.IMREAD_GRAYSCALE)
    corners = PrintedBoard(0.025).find(np.asarray(shown, dtype=np.uint8))
    assert corners is not None
    assert len(corners.numbers) == (COLUMNS - 1) * (ROWS - 1)
    shape = np.column_stack([corners.points_m[:, :2], np.ones(len(corners.numbers))])
    (x_px, y_px), (skew_x, skew_y) = (
        (found := np.linalg.lstsq(shape, corners.pixels, rcond=None)[0])[[0, 1], [0, 1]],
        found[[0, 1], [1, 0]],
    )
    assert (x_px * 0.025, y_px * 0.025) == pytest.approx((94.488, 94.488), abs=0.05)
    assert (skew_x * 0.025, skew_y * 0.025) == pytest.approx((0.0, 0.0), abs=0.05)
