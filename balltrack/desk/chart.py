"""The spray chart inside a page of the desk, where no style may stand in the text."""

import re
from collections.abc import Sequence

from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.charts import inline_svg
from balltrack.review.spray_chart import draw_spray_chart
from balltrack.review.style import chart_svg

_STYLE = re.compile(r'\sstyle="([^"]*)"')
_FONT = re.compile(r"(?P<before>.*?)(?P<size>[\d.]+px)\s*(?P<family>.*)")


def linked_chart(lesson: Lesson, swings: Sequence[Swing], units: Units) -> str:
    """The chart as an svg element whose dots are groups ``ball-1``, ``ball-2``, … by the swings' numbers."""
    return without_styles(inline_svg(chart_svg(draw_spray_chart(lesson, swings, units)), "chart-words"))


def without_styles(svg: str) -> str:
    """The same picture with attributes in place of styles: the desk's policy lets no style stand in a page's text."""
    return _STYLE.sub(lambda found: _attributes(found[1]), svg)


def _attributes(style: str) -> str:
    told: dict[str, str] = {}
    for each in style.split(";"):
        name, _, value = each.partition(":")
        if name.strip() == "font":
            told |= _font(value.strip())
        elif value:
            told[name.strip()] = value.strip()
    return "".join(f' {name}="{value}"' for name, value in told.items())


def _font(words: str) -> dict[str, str]:
    """``italic bold 10.5px 'Some Sans', sans-serif`` in its parts; only this shorthand is no attribute of its own."""
    found = _FONT.fullmatch(words)
    if found is None:
        return {}
    parts = {"font-size": found["size"], "font-family": found["family"]}
    for word in found["before"].split():
        parts["font-style" if word in ("italic", "oblique") else "font-weight"] = word
    return parts
