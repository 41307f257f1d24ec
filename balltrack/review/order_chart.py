"""Swing by swing through the lesson: exit speed with its error, block by block, and the misses."""

from collections.abc import Mapping, Sequence
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from balltrack.lesson import Lesson
from balltrack.records.swing import Outcome, Swing
from balltrack.records.table import SPEED, Units
from balltrack.records.wording import NINE_IN_TEN
from balltrack.review.axes import plain_axes
from balltrack.review.language import say
from balltrack.review.numbered import Numbered, numbered, numbers_said
from balltrack.review.style import (
    CHAR_SHARE,
    INK,
    SMALL_PT,
    SOFT,
    TEXT_PT,
    TINT,
    Frame,
    Look,
    dot,
    framed,
    looks_of,
    marker_pt,
    shortened,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PICTURE_PT = 236.0
STEP: dict[Units, float] = {"us": 10.0, "metric": 20.0}
MOST_TICKS = 13  # swing numbers written below
TICK_STEPS = (1, 2, 5, 10, 20, 25, 50, 100)
ROW_SHARE, NAMES_SHARE = 0.085, 0.16  # of the picture's height: a row of misses, the blocks' names and numbers
LEAST_LETTERS = 7  # of a name that is cut short: with fewer it is left to the key
# A swing without a number is marked below the numbers.
ROWS: dict[Outcome, str] = {"no_contact": "x", "not_measured": "$?$"}


def draw_order_chart(lesson: Lesson, swings: Sequence[Swing], units: Units) -> "Figure":
    """Draw the chart on a figure of its own (no window, no shared state)."""
    shown = numbered(swings)
    looks = looks_of(lesson, swings)
    key = [look for name, look in looks.items() if any(each.swing.block == name for each in shown)]
    note = [say("order_note"), *(say(f"order_{outcome}") for outcome in _rows(shown))]
    note += [say("hollow")] if any(each.swing.quality == "poor" for each in shown) else []
    frame = Frame(say("order_title", player=lesson.player.name), key, " ".join(note))
    figure, box = framed(frame, PICTURE_PT)
    axes = plain_axes(figure, box, say("order_axis"), say("axis_exit_speed", unit=SPEED[units].unit))
    floor = _set_limits(axes, shown, units)
    _draw_blocks(axes, shown, looks, units)
    size_pt = min(marker_pt(len(shown)), 2.6 + 120.0 / max(len(shown), 1))
    for each in shown:
        if each.swing.exit_speed_mps is not None:
            _draw_swing(axes, each, looks[each.swing.block], units, size_pt)
    _draw_rows(axes, shown, floor)
    return figure


def words_of_order_chart(lesson: Lesson, swings: Sequence[Swing], units: Units) -> str:
    """What the chart shows, for who cannot see it."""
    shown = numbered(swings)
    looks = looks_of(lesson, swings)
    words = [say("order_words", count=len(shown))]
    for name, each in _by_block(shown).items():
        speeds = [_speed(one, units) for one in each if one.swing.exit_speed_mps is not None]
        words.append(_block_words(looks[name].title, speeds, SPEED[units].unit))
    for outcome in _rows(shown):
        numbers = [each.number for each in shown if each.swing.outcome == outcome]
        words.append(say(f"order_words_{outcome}", numbers=numbers_said(numbers)))
    return " ".join(words)


def _block_words(title: str, speeds: Sequence[float], unit: str) -> str:
    if not speeds:
        return say("order_words_block_none", block=title)
    low, high, typical = (f"{speed:.0f}" for speed in (min(speeds), max(speeds), median(speeds)))
    return say("order_words_block", block=title, low=low, high=high, unit=unit, typical=typical)


def _speed(each: Numbered, units: Units) -> float:
    return (each.swing.exit_speed_mps or 0.0) / SPEED[units].si_per_unit


def _error(each: Numbered, units: Units) -> float:
    return NINE_IN_TEN * (each.swing.exit_speed_sd_mps or 0.0) / SPEED[units].si_per_unit


def _by_block(shown: Sequence[Numbered]) -> dict[str, list[Numbered]]:
    blocks: dict[str, list[Numbered]] = {}
    for each in shown:
        blocks.setdefault(each.swing.block, []).append(each)
    return blocks


def _rows(shown: Sequence[Numbered]) -> list[Outcome]:
    return [outcome for outcome in ROWS if any(each.swing.outcome == outcome for each in shown)]


def _set_limits(axes: "Axes", shown: Sequence[Numbered], units: Units) -> float:
    """Every speed with its bar, and rows below for swings without. Returns the lowest speed of the scale."""
    step = STEP[units]
    measured = [each for each in shown if each.swing.exit_speed_mps is not None]
    lows = [_speed(each, units) - _error(each, units) for each in measured] or [4 * step]
    highs = [_speed(each, units) + _error(each, units) for each in measured] or [8 * step]
    low, high = float(np.floor(min(lows) / step) * step), float(np.ceil(max(highs) / step) * step)
    high = max(high, low + 2 * step)
    below = ROW_SHARE * len(_rows(shown))
    whole = (high - low) / (1 - below - NAMES_SHARE)
    axes.set_ylim(low - below * whole, high + NAMES_SHARE * whole)
    axes.set_yticks(np.arange(low, high + step / 2, step))
    first, last = (shown[0].number, shown[-1].number) if shown else (1, 1)
    axes.set_xlim(first - 0.7, last + 0.7)
    apart = next((each for each in TICK_STEPS if (last - first) / each < MOST_TICKS), TICK_STEPS[-1])
    axes.set_xticks([number for number in range(first, last + 1) if number % apart == 0 or number == first])
    return low


def _draw_blocks(axes: "Axes", shown: Sequence[Numbered], looks: Mapping[str, Look], units: Units) -> None:
    """Every other block on a tint, its name on top where there is room, its typical speed as a line."""
    per_swing_pt = axes.get_window_extent().width / np.ptp(axes.get_xlim())
    for i, (name, each) in enumerate(_runs(shown)):
        left, right = each[0].number - 0.5, each[-1].number + 0.5
        if i % 2:
            axes.axvspan(left, right, facecolor=TINT, edgecolor="none", zorder=0)
        if i:
            axes.axvline(left, color=SOFT, linewidth=0.8, zorder=1)
        middle, room = (left + right) / 2, int(((right - left) * per_swing_pt - 2) / (CHAR_SHARE * SMALL_PT))
        if min(room, len(looks[name].title)) >= min(LEAST_LETTERS, len(looks[name].title)):
            _say_above(axes, shortened(looks[name].title, room), middle, 3.0, "normal")
        speeds = [_speed(one, units) for one in each if one.swing.exit_speed_mps is not None]
        if len(speeds) > 1:
            axes.plot([left, right], [median(speeds)] * 2, color=INK, linewidth=1.4, alpha=0.55, zorder=2)
            if room >= 3:
                _say_above(axes, f"{median(speeds):.0f}", middle, 15.0, "bold")


def _say_above(axes: "Axes", words: str, number: float, below_top_pt: float, weight: str) -> None:
    axes.annotate(
        words,
        (number, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0, -below_top_pt),
        textcoords="offset points",
        ha="center",
        va="top",
        fontsize=SMALL_PT if weight == "normal" else TEXT_PT,
        weight=weight,
        color=SOFT if weight == "normal" else INK,
        zorder=7,
    )


def _runs(shown: Sequence[Numbered]) -> list[tuple[str, list[Numbered]]]:
    """Swings of one block that follow one another: a block may come back later."""
    runs: list[tuple[str, list[Numbered]]] = []
    for each in shown:
        if not runs or runs[-1][0] != each.swing.block:
            runs.append((each.swing.block, []))
        runs[-1][1].append(each)
    return runs


def _draw_swing(axes: "Axes", each: Numbered, look: Look, units: Units, size_pt: float) -> None:
    speed, error = _speed(each, units), _error(each, units)
    axes.plot([each.number] * 2, [speed - error, speed + error], color=INK, linewidth=0.9, alpha=0.8, zorder=4)
    mark = dot(look, each.swing.quality != "poor", size_pt)
    mark.set_data([each.number], [speed])
    mark.set_zorder(5)
    axes.add_artist(mark)


def _draw_rows(axes: "Axes", shown: Sequence[Numbered], floor: float) -> None:
    from matplotlib.lines import Line2D

    bottom = axes.get_ylim()[0]
    rows = _rows(shown)
    for i, outcome in enumerate(rows):
        marker = ROWS[outcome]
        height = floor - (floor - bottom) * (i + 0.5) / len(rows)
        numbers = [each.number for each in shown if each.swing.outcome == outcome]
        axes.add_line(
            Line2D(
                numbers,
                [height] * len(numbers),
                linestyle="none",
                marker=marker,
                markersize=5,
                markeredgewidth=0.9,
                color=INK,
                zorder=5,
            )
        )
    if rows:
        axes.axhline(floor, color=SOFT, linewidth=0.6, linestyle=(0, (1, 2)), zorder=1)
