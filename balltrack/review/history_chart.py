"""A player's lessons on one picture: the typical exit speed of each, with its interval, against the calendar."""

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from balltrack.records.table import SPEED, Units
from balltrack.review.axes import plain_axes
from balltrack.review.history import Series, delivered
from balltrack.review.language import say
from balltrack.review.style import FILLS, INK, MARKERS, SOFT, Frame, Look, dot, framed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PICTURE_PT = 236.0
FIRST_DAY = date(1970, 1, 1).toordinal()  # where matplotlib counts days from
STEP: dict[Units, float] = {"us": 5.0, "metric": 10.0}
ASIDE_SHARE = 0.006  # of the time shown: kinds of one day stand beside each other
EDGE_SHARE = 0.05


def draw_history_chart(player: str, series: Sequence[Series], units: Units) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state); a mark for each lesson and kind of swing."""
    looks = [_look(at, each, series) for at, each in enumerate(series)]
    figure, box = framed(Frame(say("history_title", player=player), looks, say("history_note")), PICTURE_PT)
    axes = plain_axes(figure, box, "", say("axis_exit_speed", unit=SPEED[units].unit))
    days = sorted({point.lesson.held_on for each in series for point in each.points})
    span = max(days[-1].toordinal() - days[0].toordinal(), 1) if days else 1
    _set_days(axes, days, span)
    ends: list[float] = []
    for at, (each, look) in enumerate(zip(series, looks, strict=True)):
        aside = ASIDE_SHARE * span * 2 * (at - (len(series) - 1) / 2)
        ends += _draw_series(axes, each, look, aside, units)
    _set_speeds(axes, ends, units)
    return figure


def _title(series: Series, among: Sequence[Series]) -> str:
    """By delivery; ball and side are said where they differ."""
    words = [delivered(series.kind.delivery)]
    if len({each.kind.ball for each in among}) > 1:
        words.append(say(f"ball_{series.kind.ball}"))
    if len({each.kind.bats for each in among}) > 1:
        words.append(say(f"box_{series.kind.bats}"))
    return ", ".join(words)


def _look(at: int, series: Series, among: Sequence[Series]) -> Look:
    return Look(_title(series, among), MARKERS[at % len(MARKERS)], FILLS[at % len(FILLS)])


def _draw_series(axes: "Axes", series: Series, look: Look, aside: float, units: Units) -> list[float]:
    """Marks, bars, and a thin line from lesson to lesson. Returns all speeds that must be in the picture."""
    scale = SPEED[units].si_per_unit
    stats = [(_day(point.lesson.held_on) + aside, point.median("exit_speed")) for point in series.points]
    known = [(x, stat) for x, stat in stats if stat.value is not None]
    speeds = [(stat.value or 0.0) / scale for _, stat in known]
    axes.plot([x for x, _ in known], speeds, color=SOFT, linewidth=0.9, zorder=2)
    ends = list(speeds)
    for (x, stat), speed in zip(known, speeds, strict=True):
        if stat.low is not None and stat.high is not None:
            bar = [stat.low / scale, stat.high / scale]
            axes.plot([x, x], bar, color=INK, linewidth=1.1, solid_capstyle="butt", zorder=3)
            ends += bar
        mark = dot(look, sure=True, size_pt=7.0)
        mark.set_data([x], [speed])
        mark.set_zorder(4)
        axes.add_line(mark)
    return ends


def _day(day: date) -> float:
    return float(day.toordinal() - FIRST_DAY)


def _set_days(axes: "Axes", days: Sequence[date], span: int) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    if not days:
        return
    first, last = _day(days[0]), _day(days[-1])
    axes.set_xlim(first - max(EDGE_SHARE * span, 1.0), last + max(EDGE_SHARE * span, 1.0))
    locator = AutoDateLocator(minticks=2, maxticks=6)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]


def _set_speeds(axes: "Axes", ends: Sequence[float], units: Units) -> None:
    step = STEP[units]
    low = float(np.floor(min(ends, default=8 * step) / step) * step)
    high = max(float(np.ceil(max(ends, default=12 * step) / step) * step), low + 2 * step)
    axes.set_ylim(low, high)
    axes.set_yticks(np.arange(low, high + step / 2, step))
