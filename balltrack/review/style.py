"""How all pictures of the review look: ink, block looks, a frame that reads on a phone and on paper, and their files.

Every picture is as wide as a phone's page, so that its text is read there at its own size, and larger on paper. A block
is told by shape and by lightness, never by colour alone.
"""

import io
import re
import textwrap
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balltrack.lesson import Lesson
from balltrack.records.swing import Swing

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

INK = "#1c2b2a"
SOFT = "#4d5f5b"  # second ink, for what stands around: still 6 to 1 on white
FAINT = "#8b9894"  # lines only, never words
PAPER = "#ffffff"
TINT = "#eef2ec"

# Neighbours differ in lightness as well as shape: dark, light, middle, light, dark, middle, black, light.
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h")
FILLS = ("#0b4f57", "#f2b63d", "#bb4b2c", "#b5d6ea", "#5b3f80", "#74b58a", "#262626", "#ded5c2")

WIDTH_PT = 338.0  # a phone's page of 360 CSS pixels less its margins: a point is a pixel there
TITLE_PT, TEXT_PT, SMALL_PT = 11.5, 9.8, 9.0
TITLE_LINE_PT, SMALL_LINE_PT, KEY_LINE_PT = 15.0, 12.0, 14.5
MARGIN_PT = 6.0
CHAR_SHARE = 0.54  # of its size is a letter wide in the mean, in the wide sans-serif that matplotlib brings
LONGEST_TITLE = 34  # letters of a block's title in a key; the page says it whole


@dataclass(frozen=True, slots=True)
class Look:
    """How one block is drawn."""

    title: str
    marker: str
    fill: str


@dataclass(frozen=True, slots=True)
class Box:
    """A part of a figure, in points from its lower left corner."""

    left: float
    bottom: float
    width: float
    height: float

    def of(self, figure: "Figure") -> tuple[float, float, float, float]:
        """The same as shares of the figure, as ``add_axes`` wants it."""
        wide, high = 72 * figure.get_size_inches()
        return (self.left / wide, self.bottom / high, self.width / wide, self.height / high)


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands around a picture."""

    title: str
    key: Sequence[Look]
    note: str  # below the picture, in small letters


def looks_of(lesson: Lesson, swings: Sequence[Swing]) -> Mapping[str, Look]:
    """Block by block, in the lesson's order, the same in every picture. A block that lost its clips comes last."""
    titles = {block.name: block.title for block in lesson.blocks}
    titles |= {swing.block: swing.block for swing in swings if swing.block not in titles}
    return {name: _look(i, title) for i, (name, title) in enumerate(titles.items())}


def _look(i: int, title: str) -> Look:
    turn = i // len(MARKERS)  # a ninth block has the first one's shape, and another's lightness
    return Look(title, MARKERS[i % len(MARKERS)], FILLS[(i + turn) % len(FILLS)])


def framed(frame: Frame, picture_pt: float) -> "tuple[Figure, Box]":
    """A figure of its own (no window, no shared state) with title, key and note, and the room left for the picture.

    Parameters
    ----------
    frame : Frame
    picture_pt : float
        Height of the picture. [pt] The figure is as much higher as its words need.
    """
    from matplotlib.figure import Figure

    title = textwrap.wrap(frame.title, int(WIDTH_PT / (TITLE_PT * (CHAR_SHARE + 0.09))))  # bold is wider
    note = textwrap.wrap(frame.note, int((WIDTH_PT - 2 * MARGIN_PT) / (SMALL_PT * CHAR_SHARE)))
    rows = _key_rows(frame.key)
    below = MARGIN_PT + SMALL_LINE_PT * len(note) + KEY_LINE_PT * len(rows) + (4.0 if note or rows else 0.0)
    above = MARGIN_PT + TITLE_LINE_PT * len(title)
    high = below + picture_pt + above
    figure = Figure(figsize=(WIDTH_PT / 72, high / 72), dpi=72, facecolor=PAPER)
    left = MARGIN_PT / WIDTH_PT
    for i, line in enumerate(title):
        y = 1 - (MARGIN_PT + TITLE_LINE_PT * i) / high
        figure.text(left, y, line, va="top", fontsize=TITLE_PT, color=INK, weight="bold")
    for i, line in enumerate(note):
        y = (MARGIN_PT + SMALL_LINE_PT * (len(note) - 1 - i)) / high
        figure.text(left, y, line, va="bottom", fontsize=SMALL_PT, color=SOFT)
    _draw_key(figure, rows, below - 4.0)
    return figure, Box(0.0, below, WIDTH_PT, picture_pt)


def shortened(title: str, letters: int = LONGEST_TITLE) -> str:
    return title if len(title) <= letters else title[: letters - 1].rstrip() + "…"


def marker_pt(count: int) -> float:
    """Size of a mark, smaller where there are many. [pt]"""
    return 7.0 if count <= 30 else 6.0 if count <= 80 else 5.0


def dot(look: Look, sure: bool, size_pt: float) -> "Line2D":
    """A block's mark; hollow where the numbers behind it are of poor quality. Not yet in any axes."""
    from matplotlib.lines import Line2D

    return Line2D(
        [0.0],
        [0.0],
        linestyle="none",
        marker=look.marker,
        markersize=size_pt,
        markerfacecolor=look.fill if sure else PAPER,
        markeredgecolor=INK,
        markeredgewidth=0.8,
    )


def _key_rows(key: Sequence[Look]) -> list[list[tuple[float, Look]]]:
    """The key in lines: each entry with its place from the left. [pt]"""
    rows: list[list[tuple[float, Look]]] = []
    x = WIDTH_PT
    for look in key:
        wide = 20.0 + TEXT_PT * CHAR_SHARE * len(shortened(look.title)) + 8.0
        if not rows or x + wide > WIDTH_PT - MARGIN_PT:
            rows.append([])
            x = MARGIN_PT
        rows[-1].append((x, look))
        x += wide
    return rows


def _draw_key(figure: "Figure", rows: list[list[tuple[float, Look]]], top_pt: float) -> None:
    wide, high = 72 * figure.get_size_inches()
    for i, row in enumerate(rows):
        y = (top_pt - KEY_LINE_PT * (i + 0.5)) / high
        for x, look in row:
            mark = dot(look, True, 7.0)
            mark.set_data([(x + 6.0) / wide], [y])
            mark.set_transform(figure.transFigure)
            figure.add_artist(mark)
            words = shortened(look.title)
            figure.text((x + 15.0) / wide, y, words, va="center_baseline", fontsize=TEXT_PT, color=INK)


def chart_svg(figure: "Figure") -> str:
    """The figure as a standalone SVG, the same bytes for the same figure; text stays text.

    Only the names that something refers to are kept (those of `Artist.set_gid` that hold a number, and shapes used
    again), so that several pictures can stand in one page.
    """
    import matplotlib

    text = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "balltrack"}), _as_typed(figure):
        figure.savefig(text, format="svg", metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
    svg = text.getvalue()
    meant = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg)) | set(re.findall(r'id="([a-z]+-\d+)"', svg))
    return re.sub(r' id="([^"]*)"', lambda found: found[0] if found[1] in meant else "", svg)


def chart_png(figure: "Figure", dots_per_inch: int = 230) -> bytes:
    """The figure as PNG; at the usual resolution 1080 pixels wide, as a phone's screen."""
    data = io.BytesIO()
    with _as_typed(figure):
        figure.savefig(data, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return data.getvalue()


@contextmanager
def _as_typed(figure: "Figure") -> Iterator[None]:
    """What a person typed is no formula (``$``), and a letter that the font lacks is shown as a box, not warned of."""
    from matplotlib.text import Text

    words: list[Artist] = figure.findobj(Text)
    for each in words:
        if isinstance(each, Text):
            each.set_parse_math(False)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"Glyph \d+", category=UserWarning)
        yield
