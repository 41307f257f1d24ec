"""The report's three pictures, as SVG. Colours that the colour-blind can tell apart (Okabe and Ito), and shapes too."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from bench.quantity import QUANTITIES
from bench.summary import TARGETED, Summary, coverage, coverage_range, groups, summarise
from bench.swing_score import LessonScore, SwingScore

BLUE, ORANGE, GREEN, GREY = "#0072B2", "#D55E00", "#009E73", "#8C8C8C"
MARKS = ((BLUE, "o"), (ORANGE, "^"), (GREEN, "s"))
STATED = np.arange(0.05, 1.0, 0.05)
SHOWN_SIDES = ("lesson", "difficulty", "phone", "frame rate", "picture", "light", "delivery")
GAP = 0.7  # between the bars of one side of the set-up and the next
SMALLEST = 0.003  # an error is drawn no smaller, so that a logarithm shows it
STYLE = {
    "svg.fonttype": "none",
    "svg.hashsalt": "accuracy",
    "font.family": "sans-serif",
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 10,
}


def draw_plots(folder: Path, lessons: Sequence[LessonScore], suffix: str = "svg") -> None:
    """Write all three into ``folder``."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    folder.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]  # the stubs name each key
        for name, size, draw in (
            ("error_against_limit", (9.0, 3.4), _error_against_limit),
            ("coverage", (4.6, 4.2), _coverage),
            ("error_by_set_up", (9.0, 1.6 + 0.19 * len(_bars(lessons))), _error_by_set_up),
        ):
            figure = Figure(figsize=size, layout="constrained")
            draw(figure, lessons)
            metadata = {"Date": None} if suffix == "svg" else None
            figure.savefig(folder / f"{name}.{suffix}", metadata=metadata, dpi=110)


def _swings(lessons: Sequence[LessonScore]) -> list[SwingScore]:
    return [swing for lesson in lessons for swing in lesson.swings]


def _error_against_limit(figure: Any, lessons: Sequence[LessonScore]) -> None:
    from matplotlib.ticker import LogLocator, NullFormatter

    parts = (
        ("ordinary lessons", *MARKS[0], [each for each in lessons if not each.difficulties]),
        ("with a difficulty", *MARKS[1], [each for each in lessons if each.difficulties]),
    )
    for k, axes in enumerate(figure.subplots(1, TARGETED)):
        q, reach = QUANTITIES[k], []
        for label, colour, mark, among in parts:
            done = [swing for swing in _swings(among) if swing.measured and np.isfinite(swing.limit.unbiased[k])]
            limit = np.array([swing.limit.unbiased[k] for swing in done])
            off = np.array([max(abs(swing.error[k]), SMALLEST) for swing in done])
            axes.scatter(limit, off, s=12, marker=mark, color=colour, alpha=0.65, linewidths=0, label=label)
            reach += [*limit]
        if reach:
            ends = np.array([0.8 * min(reach), 1.25 * max(reach)])
            axes.plot(ends, 0.6745 * ends, color=GREY, lw=1, ls="--", label="half of the swings below, at the limit")
            axes.plot(ends, 1.6449 * ends, color=GREY, lw=1, label="nine in ten below, at the limit")
            axes.set(xscale="log", yscale="log")
            for axis in (axes.xaxis, axes.yaxis):
                axis.set_major_locator(LogLocator(subs=(1, 3)))
                axis.set_major_formatter("{x:g}")
                axis.set_minor_formatter(NullFormatter())
        axes.set(title=f"{q.name}, {q.unit}", xlabel="limit, 1 sd")
        if k == 0:
            axes.set_ylabel("error")
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, frameon=False)


def _coverage(figure: Any, lessons: Sequence[LessonScore]) -> None:
    swings = _swings(lessons)
    axes, found = figure.subplots(), 100 * coverage(swings, STATED)
    band = 100 * np.array([coverage_range(share, summarise(swings).measured) for share in STATED])
    axes.fill_between(100 * STATED, band[:, 0], band[:, 1], color=GREY, alpha=0.25, lw=0, label="chance, nine in ten")
    axes.plot([0, 100], [0, 100], color=GREY, lw=1)
    for k, (colour, mark) in enumerate(MARKS):
        axes.plot(100 * STATED, found[:, k], color=colour, marker=mark, ms=4, lw=1.2, label=QUANTITIES[k].name)
    axes.set(xlabel="stated, %", ylabel="truth inside, %", xlim=(0, 100), ylim=(0, 100), aspect="equal")
    axes.legend(frameon=False, loc="upper left")


def _bars(lessons: Sequence[LessonScore]) -> list[tuple[str, str, Summary]]:
    """Side of the set-up, label and figures of each group that has measured hits."""
    out = []
    for side, name, swings in groups(lessons):
        whole = summarise(swings)
        if side in SHOWN_SIDES and whole.measured:
            out.append((side, f"{name} ({whole.measured})", whole))
    return out


def _error_by_set_up(figure: Any, lessons: Sequence[LessonScore]) -> None:
    rows = _bars(lessons)
    sides = [side for side, _, _ in rows]
    places = -np.arange(len(rows)) - GAP * np.array([len(set(sides[: k + 1])) for k in range(len(rows))])
    for k, axes in enumerate(figure.subplots(1, TARGETED, sharey=True)):
        q = QUANTITIES[k]
        nine, median = ([getattr(whole, name)[k] for _, _, whole in rows] for name in ("nine", "median"))
        axes.barh(places, nine, height=0.72, color=BLUE, alpha=0.3, label="nine in ten within")
        axes.barh(places, median, height=0.72, color=BLUE, label="median")
        axes.set(title=f"{q.name}, {q.unit}", yticks=places, yticklabels=[label for _, label, _ in rows])
        axes.margins(y=0.01)
        axes.tick_params(axis="y", length=0)
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, frameon=False)
