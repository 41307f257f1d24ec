"""Measure batted balls from one fixed camera: exit speed, launch angle, direction, each with its uncertainty.

``balltrack.open_lesson`` and ``balltrack.measure_lesson`` are where to begin; docs/tutorial.md goes on from there.
What is named here is imported when it is first asked for, so that ``import balltrack`` costs nothing.
"""

from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:  # for editors and type checkers; the same names as below
    from balltrack.api import ChartName as ChartName
    from balltrack.api import MeasuredLesson as MeasuredLesson
    from balltrack.api import measure_lesson as measure_lesson
    from balltrack.api import open_lesson as open_lesson
    from balltrack.camera.model import Camera as Camera
    from balltrack.camera.model import project as project
    from balltrack.camera.solve import SolvedCamera as SolvedCamera
    from balltrack.errors import MeasureError as MeasureError
    from balltrack.lesson import Lesson as Lesson
    from balltrack.records.swing import Swing as Swing
    from balltrack.records.table import Units as Units
    from balltrack.review.bands import Bands as Bands
    from balltrack.review.change import Change as Change
    from balltrack.review.change import compare as compare
    from balltrack.review.change_words import change_words as change_words
    from balltrack.review.groups import Group as Group
    from balltrack.review.practice import Takeaway as Takeaway
    from balltrack.review.quantity import Quantity as Quantity
    from balltrack.review.style import chart_png as chart_png
    from balltrack.review.style import chart_svg as chart_svg
    from balltrack.review.tally import Tally as Tally

_HOMES = {
    "balltrack.api": ("ChartName", "MeasuredLesson", "measure_lesson", "open_lesson"),
    "balltrack.camera.model": ("Camera", "project"),
    "balltrack.camera.solve": ("SolvedCamera",),
    "balltrack.errors": ("MeasureError",),
    "balltrack.lesson": ("Lesson",),
    "balltrack.records.swing": ("Swing",),
    "balltrack.records.table": ("Units",),
    "balltrack.review.bands": ("Bands",),
    "balltrack.review.change": ("Change", "compare"),
    "balltrack.review.change_words": ("change_words",),
    "balltrack.review.groups": ("Group",),
    "balltrack.review.practice": ("Takeaway",),
    "balltrack.review.quantity": ("Quantity",),
    "balltrack.review.style": ("chart_png", "chart_svg"),
    "balltrack.review.tally": ("Tally",),
}

if not TYPE_CHECKING:  # type checkers would take any name for right

    def __getattr__(name: str) -> object:
        from importlib import import_module

        home = next((module for module, names in _HOMES.items() if name in names), None)
        if home is None:
            raise AttributeError(f"module 'balltrack' has no attribute {name!r}")
        return getattr(import_module(home), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *(name for names in _HOMES.values() for name in names)})
