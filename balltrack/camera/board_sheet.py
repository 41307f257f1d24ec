"""The board on paper, at true scale: SVG by hand, PDF by matplotlib, both from the same rectangles and words."""

from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.board import COLUMNS, MARKER_SHARE, ROWS, PrintedBoard

MM_PER_INCH = 25.4
MARKER_BITS = 4  # a side, inside a black rim one bit wide
SCALE_MM = 100.0  # length of the printed ruler
TOP_MM, RULER_GAP_MM = 11.0, 9.0
INSTRUCTIONS = (
    "Print at 100 % (no 'fit to page'). Both rulers must measure 100 mm. Glue the sheet flat onto stiff board.",
    "Focus and zoom locked as on the field. Hold it still for a second in 15 ways: tilted, near, in every corner.",
)


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, upright, and the squares that suit it."""

    width_mm: float
    height_mm: float
    square_mm: float


# ISO 216 for A4 and A3; ANSI/ASME Y14.1 for Letter (8.5 x 11 in). The squares leave room for rulers and words.
PAPERS = {
    "a4": Paper(210.0, 297.0, 25.0),
    "letter": Paper(8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH, 23.0),
    "a3": Paper(297.0, 420.0, 36.0),
}


@dataclass(frozen=True, slots=True)
class Rectangle:
    """Black or white, from its top left corner on the sheet. [mm]"""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    white: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text, from its left end or about its middle."""

    x_mm: float
    baseline_mm: float
    height_mm: float
    text: str
    centred: bool = True
    turned: bool = False  # reads upward


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that is drawn on one sheet of paper."""

    paper: Paper
    rectangles: tuple[Rectangle, ...]
    words: tuple[Words, ...]


def board_sheet(paper: Paper) -> Sheet:
    """Lay the board out on a sheet, with a ruler along each way and two lines that say what to do."""
    left = 0.5 * (paper.width_mm - COLUMNS * paper.square_mm)
    bottom = TOP_MM + ROWS * paper.square_mm
    marks, signs = _rulers(left, bottom + RULER_GAP_MM)
    size = f"Squares of {paper.square_mm:g} mm"
    lines = [*INSTRUCTIONS, f"{size} · balltrack lens film CLIP --square-mm {paper.square_mm:g}"]
    text = [
        Words(left, bottom + RULER_GAP_MM + 9.5 + 5.0 * i, 3.0, line, centred=False) for i, line in enumerate(lines)
    ]
    return Sheet(paper, (*_squares(paper, left), *marks), (*signs, *text))


def _squares(paper: Paper, left_mm: float) -> list[Rectangle]:
    """Black squares, and on the white ones a marker each, where the detector expects them."""
    side = paper.square_mm
    layout = PrintedBoard(side / 1000).layout
    marker_mm = MARKER_SHARE * side
    corners_mm = [1000 * np.asarray(points)[0, :2] for points in layout.getObjPoints()]  # top left ones
    white = {(int(x // side), int(y // side)) for x, y in corners_mm}
    black = [(i, j) for j in range(ROWS) for i in range(COLUMNS) if (i, j) not in white]
    drawn = [Rectangle(left_mm + i * side, TOP_MM + j * side, side, side) for i, j in black]
    for number, (x, y) in zip(np.ravel(layout.getIds()), corners_mm, strict=True):
        at_x, at_y, bit = left_mm + float(x), TOP_MM + float(y), marker_mm / (MARKER_BITS + 2)
        drawn.append(Rectangle(at_x, at_y, marker_mm, marker_mm))
        bits = cv2.aruco.generateImageMarker(layout.getDictionary(), int(number), MARKER_BITS + 2)
        for column, row, columns, rows in _runs(np.asarray(bits) > 0):
            place = (at_x + column * bit, at_y + row * bit, columns * bit, rows * bit)
            drawn.append(Rectangle(*place, white=True))
    return drawn


def _runs(white: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """Runs of white bits along rows and along columns: column, row, width, height.

    Bits drawn one by one would show hairlines between neighbours; runs both ways cover each other's.
    """
    runs = []
    for row, column in np.argwhere(white).tolist():
        if not white[row, column - 1]:  # the rim is black, so a bit has neighbours on all sides
            runs.append((column, row, int(np.argmin(white[row, column:])), 1))
        if not white[row - 1, column]:
            runs.append((column, row, 1, int(np.argmin(white[row:, column]))))
    return runs


def _rulers(left_mm: float, y_mm: float) -> tuple[list[Rectangle], list[Words]]:
    """A ruler across the sheet below the board, and one up the sheet to the left of it."""
    thin, x_mm = 0.25, 0.5 * left_mm
    start = TOP_MM
    marks = [Rectangle(left_mm, y_mm, SCALE_MM, thin), Rectangle(x_mm, start, thin, SCALE_MM)]
    for tick in range(0, int(SCALE_MM) + 1, 10):
        long = 3.0 if tick % 50 == 0 else 1.8
        marks.append(Rectangle(left_mm + tick - 0.5 * thin, y_mm - long, thin, long))
        marks.append(Rectangle(x_mm, start + tick - 0.5 * thin, long, thin))
    words = [Words(left_mm + tick, y_mm + 3.2, 2.4, f"{tick}") for tick in (0, 50)]
    words.append(Words(left_mm + SCALE_MM, y_mm + 3.2, 2.4, "100 mm"))
    words.append(Words(x_mm - 1.0, start + 0.5 * SCALE_MM, 2.4, "100 mm", turned=True))
    return marks, words


def write_sheet(sheet: Sheet, path: Path) -> None:
    """Write a sheet as .svg or .pdf, by the path's ending. Raises ValueError for any other."""
    suffix = path.suffix.lower()
    if suffix == ".svg":
        path.write_text(svg(sheet), encoding="utf-8")
    elif suffix == ".pdf":
        _write_pdf(sheet, path)
    else:
        raise ValueError(f"a board is written as .svg or .pdf, not {suffix!r}")


def svg(sheet: Sheet) -> str:
    """The sheet as SVG whose user unit is the millimetre."""
    paper = sheet.paper
    size = f'width="{paper.width_mm:g}mm" height="{paper.height_mm:g}mm"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {paper.width_mm:g} {paper.height_mm:g}">',
        f'<rect width="{paper.width_mm:g}" height="{paper.height_mm:g}" fill="#fff"/>',
        '<g shape-rendering="geometricPrecision">',
    ]
    for box in sheet.rectangles:
        place = f'x="{box.x_mm:.4f}" y="{box.y_mm:.4f}" width="{box.width_mm:.4f}" height="{box.height_mm:.4f}"'
        lines.append(f'<rect {place} fill="{"#fff" if box.white else "#000"}"/>')
    lines.append('</g>\n<g font-family="Helvetica, Arial, sans-serif" fill="#000">')
    for word in sheet.words:
        anchor = ' text-anchor="middle"' if word.centred else ""
        turn = f' transform="rotate(-90 {word.x_mm:.3f} {word.baseline_mm:.3f})"' if word.turned else ""
        place = f'x="{word.x_mm:.3f}" y="{word.baseline_mm:.3f}" font-size="{word.height_mm:g}"'
        lines.append(f"<text {place}{anchor}{turn}>{escape(word.text)}</text>")
    return "\n".join([*lines, "</g>", "</svg>", ""])


def _write_pdf(sheet: Sheet, path: Path) -> None:
    from matplotlib.backends.backend_pdf import FigureCanvasPdf
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle as Patch

    paper = sheet.paper
    figure = Figure(figsize=(paper.width_mm / MM_PER_INCH, paper.height_mm / MM_PER_INCH))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, paper.width_mm), ylim=(paper.height_mm, 0.0))
    axes.axis("off")
    for box in sheet.rectangles:
        color = "white" if box.white else "black"
        axes.add_patch(Patch((box.x_mm, box.y_mm), box.width_mm, box.height_mm, facecolor=color, linewidth=0))
    for word in sheet.words:
        axes.text(
            word.x_mm,
            word.baseline_mm,
            word.text,
            fontsize=word.height_mm / MM_PER_INCH * 72,  # points
            ha="center" if word.centred else "left",
            va="baseline",
            rotation=90 if word.turned else 0,
            rotation_mode="anchor",
        )
    FigureCanvasPdf(figure).print_figure(path, format="pdf", metadata={"CreationDate": None})
