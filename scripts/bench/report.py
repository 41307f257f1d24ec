"""The benchmark in words: tables, what was not measured and why, the worst errors, the verdict."""

from collections.abc import Sequence

import numpy as np

from bench.detection import by_size
from bench.quantity import QUANTITIES
from bench.run import LessonScore, SwingScore
from bench.summary import TARGET_NINE, TARGETED, Summary, Verdict, groups

WORST = 10


def report(lessons: Sequence[LessonScore], marks: Sequence[Verdict]) -> str:
    """The whole text."""
    rows = groups(lessons)
    whole = rows[0][1]
    swings = [swing for lesson in lessons for swing in lesson.swings]
    parts = [
        setups_table(rows),
        quantities_table(whole),
        detection_table(whole),
        not_measured(swings),
        misses(swings),
        worst(swings),
        faults(lessons),
        "\n".join(f"{'pass' if mark.met else 'FAIL'}  {mark.words}" for mark in marks),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def setups_table(rows: Sequence[tuple[str, Summary]]) -> str:
    """A line a group: counts, then bias, median, nine in ten and the ratio to the fits to the true pixels."""
    head = (
        f"{'':48}{'':7}{'':6}{'mea-':>6}{'truth':>6}{'made':>5}{'misses':>8}"
        + "".join(f" |{f'{q.name}, {q.unit}':^26}" for q in QUANTITIES[:TARGETED])
        + f"\n{'set-up':48}{'swings':>7}{'hits':>6}{'sured':>6}{'fits':>6}{'up':>5}{'called':>8}"
        + f" |{'bias':>7}{'med':>6}{'90%':>7}{'/fit':>6}" * TARGETED
    )
    return "\n".join([head, *(_line(name, each) for name, each in rows)])


def _line(name: str, s: Summary) -> str:
    share, truth = _percent(s.share), _percent(s.fit_to_truth / s.hits if s.hits else np.nan)
    called = f"{s.called_misses}/{s.misses}"
    return f"{name:48}{s.swings:>7}{s.hits:>6}{share:>6}{truth:>6}{s.made_up:>5}{called:>8}" + "".join(
        f" |{_n(s.bias[k], 2, '+'):>7}{_n(s.median[k], 2):>6}{_n(s.nine[k], 2):>7}{_n(s.ratio[k], 1):>6}"
        for k in range(TARGETED)
    )


def quantities_table(s: Summary) -> str:
    """All judged numbers over all measured hits, beside the fits to the true pixels of the same hits."""
    lines = [
        f"over {s.measured} measured hits; "
        f"a fit to the true pixels (0.5 px noise) can measure {s.fit_to_truth} of all {s.hits} hits",
        f"{'':22}{'bias':>8}{'median':>8}{'90 %':>8}{'in 50 %':>9}{'in 90 %':>9}"
        f" | true pixels:{'median':>8}{'90 %':>8} | ratio of medians",
    ]
    for k, q in enumerate(QUANTITIES):
        d = q.decimals
        lines.append(
            f"{f'{q.name}, {q.unit}':22}{_n(s.bias[k], d, '+'):>8}{_n(s.median[k], d):>8}{_n(s.nine[k], d):>8}"
            f"{_percent(s.within_half[k]):>9}{_percent(s.within_ninety[k]):>9}"
            f" | {'':12}{_n(s.floor_median[k], d):>8}{_n(s.floor_nine[k], d):>8} | {_n(s.ratio[k], 1):>5}"
        )
    return "\n".join(lines)


def detection_table(s: Summary) -> str:
    """Recall, precision, and how far the centres lie from the true ones by size."""
    d = s.detection
    lines = [
        f"ball found in {d.found} of {d.sought} frames that show it flying, clear and at least 4 px "
        f"(recall {_percent(d.found / d.sought if d.sought else np.nan)})",
        f"{d.right} of {d.used} used positions are on the flying ball "
        f"(precision {_percent(d.right / d.used if d.used else np.nan)})",
    ]
    lines += [f"  centre off by {error:5.2f} px (median)  {name}, {rows} rows" for name, rows, error in by_size(d)]
    return "\n".join(lines)


def not_measured(swings: Sequence[SwingScore]) -> str:
    """Each hit without numbers, with the program's reason and whether the true pixels would have done."""
    lines = []
    for swing in swings:
        if swing.hit and swing.outcome != "measured":
            true = swing.floor.reason or f"true pixels would do, seen in {swing.detection.sought} frames"
            lines.append(f"  lesson {swing.lesson} {swing.clip} {swing.outcome}: {swing.reason} [{true}]")
    return "\n".join(["hits not measured:", *lines]) if lines else "every hit was measured"


def misses(swings: Sequence[SwingScore]) -> str:
    """Misses that were not recorded as misses, and other made-up numbers."""
    lines = []
    for swing in swings:
        kind = "hit" if swing.hit else "miss"
        lines += [f"  lesson {swing.lesson} {swing.clip} {kind}, made up: {words}" for words in swing.made_up]
        if not swing.hit and not swing.made_up and swing.outcome != "no_contact":
            lines.append(f"  lesson {swing.lesson} {swing.clip} miss, {swing.outcome}: {swing.reason}")
    return "\n".join(["misses not called so, and made-up numbers:", *lines]) if lines else "every miss was called so"


def worst(swings: Sequence[SwingScore]) -> str:
    """The largest errors, in shares of what nine in ten must keep to."""
    done = [swing for swing in swings if np.isfinite(swing.error[:TARGETED]).all()]
    done.sort(key=lambda swing: -float(np.max(np.abs(swing.error[:TARGETED]) / TARGET_NINE)))
    lines = ["worst errors (stated sd; error of the fit to the true pixels):"]
    for swing in done[:WORST]:
        words = ", ".join(
            f"{q.name} {swing.error[k]:+.2f} (sd {swing.sd[k]:.2f}; {_n(swing.floor.error[k], 2, '+')}) {q.unit}"
            for k, q in enumerate(QUANTITIES[:TARGETED])
        )
        d = swing.detection
        lines.append(f"  lesson {swing.lesson} {swing.clip}: {words}; {d.right}/{d.used} rows right, {d.sought} sought")
    return "\n".join(lines)


def faults(lessons: Sequence[LessonScore]) -> str:
    """What the command itself did wrong."""
    lines = [f"  lesson {lesson.lesson.number}: {fault}" for lesson in lessons for fault in lesson.faults]
    return "\n".join(["faults of the command:", *lines]) if lines else ""


def _n(value: float, decimals: int, sign: str = "") -> str:
    return f"{value:{sign}.{decimals}f}" if np.isfinite(value) else "-"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if np.isfinite(share) else "-"
