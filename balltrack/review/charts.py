"""All charts of a lesson, as files and as they stand in the page."""

import re
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.contact_chart import draw_contact_chart, words_of_contact_chart
from balltrack.review.exit_launch_chart import draw_exit_launch_chart, words_of_exit_launch_chart
from balltrack.review.order_chart import draw_order_chart, words_of_order_chart
from balltrack.review.side_chart import draw_side_chart, words_of_side_chart
from balltrack.review.spray_chart import draw_spray_chart, words_of_spray_chart
from balltrack.review.style import Frame, chart_png, chart_svg, framed

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ID = re.compile(r'(?<=\sid=")(?=[^"]+")|(?<=href="#)|(?<=url\(#)')
_SIZE = re.compile(r'\s(?:width|height)="[^"]*"')
_ONE_AT_A_TIME = threading.Lock()  # matplotlib's settings are the whole process's
_SHEET = re.compile(r"<style[^>]*>\*\{([^}]*)\}</style>")


@dataclass(frozen=True, slots=True)
class Chart:
    """One picture, whole in itself."""

    name: str  # of its files, without suffix
    svg: str
    png: bytes
    words: str  # what it shows, for who does not see it

    @property
    def element(self) -> str:
        """The svg element as it stands in the page, described by the element ``<name>-words``."""
        return inline_svg(self.svg, f"{self.name}-words", f"{self.name}-")


DrawCharts = Callable[[Lesson, Sequence[Swing], Units], tuple[Chart, ...]]
_Draw = Callable[[Lesson, Sequence[Swing], Units], "Figure"]
_Say = Callable[[Lesson, Sequence[Swing], Units], str]
_DRAWN: dict[str, tuple[_Draw, _Say]] = {
    "spray_chart": (draw_spray_chart, words_of_spray_chart),
    "exit_launch_chart": (draw_exit_launch_chart, words_of_exit_launch_chart),
    "contact_chart": (draw_contact_chart, words_of_contact_chart),
    "order_chart": (draw_order_chart, words_of_order_chart),
    "side_chart": (draw_side_chart, words_of_side_chart),
}
NAMES = tuple(_DRAWN)


def charts_of(lesson: Lesson, swings: Sequence[Swing], units: Units) -> tuple[Chart, ...]:
    """Draw all charts that these swings allow."""
    return tuple(draw_chart(name, lesson, swings, units) for name in NAMES)


def draw_chart(name: str, lesson: Lesson, swings: Sequence[Swing], units: Units) -> Chart:
    """Draw one of ``NAMES``."""
    draw, words = _DRAWN[name]
    with _ONE_AT_A_TIME:
        figure = draw(lesson, swings, units)
        return Chart(name, chart_svg(figure), chart_png(figure), words(lesson, swings, units))


def load() -> None:
    """Load what draws, by drawing a word: that takes half a second the first time, and none later."""
    with _ONE_AT_A_TIME:
        figure, _ = framed(Frame("1", (), ""), 9.0)
        chart_svg(figure)
        chart_png(figure)


def inline_svg(svg: str, words: str, prefix: str = "") -> str:
    """The svg element alone, sized by the page.

    ``words`` is the id of what describes it; ``prefix`` goes before its own ids, for several charts on one page.
    """
    element = svg[svg.index("<svg") :]
    head, rest = element.split(">", 1)
    head = _SIZE.sub("", head) + f' role="img" aria-labelledby="{words}"'
    sheet = _SHEET.search(rest)
    if sheet:  # it would hold for the whole page
        head, rest = f'{head} style="{sheet[1]}"', _SHEET.sub("", rest)
    return _ID.sub(prefix, f"{head}>{rest}") if prefix else f"{head}>{rest}"
