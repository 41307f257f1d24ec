"""docs/accuracy.md: every table and every sentence with a figure is made from a result file alone."""

import re
from collections import Counter
from collections.abc import Sequence

import numpy as np

from bench.detection import together
from bench.limit import row_sd_px
from bench.quantity import QUANTITIES
from bench.result_file import Run
from bench.summary import (
    TARGETED,
    WRONG_MPH,
    WRONG_SDS,
    Found,
    Summary,
    coverage_range,
    found_by,
    found_of,
    groups,
    measurable,
    summarise,
    verdicts,
    wrong,
)
from bench.swing_score import LessonScore, SwingScore
from bench.wording import KINDS, KNOWN_GAPS, LIMIT_WORDS, MADE_OF, UNKNOWN, bullets, count, number, percent, table

WORST = 12
FEW = 20  # measured hits; fewer say little
RADIAL_MEDIAN = 1.1774  # of a centre with one sd along each axis: the Rayleigh law's sqrt(2 ln 2)


def report(run: Run, lessons: Sequence[LessonScore]) -> str:
    """The whole page."""
    swings = [swing for lesson in lessons for swing in lesson.swings]
    whole = summarise(swings)
    parts = [
        "# Accuracy on rendered lessons",
        "This page is written by `scripts/bench_accuracy.py` from `accuracy/result.json`; nobody edits it by hand.",
        how_made(run, lessons),
        MADE_OF,
        overall(swings),
        "![Coverage: stated against found](accuracy/coverage.svg)",
        beside_limit(whole, swings),
        "![Error against limit](accuracy/error_against_limit.svg)",
        by_set_up(lessons),
        "![Error by set-up](accuracy/error_by_set_up.svg)",
        not_hits(swings),
        wrong_numbers(swings),
        not_measured(swings),
        finding(swings),
        worst(swings),
        faults(lessons),
        UNKNOWN,
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def in_short(run: Run, lessons: Sequence[LessonScore]) -> str:
    """What the README says: the few figures that a coach asks for."""
    swings = [swing for lesson in lessons for swing in lesson.swings]
    whole = summarise(swings)
    rows = [
        [
            f"{QUANTITIES[k].name}, {QUANTITIES[k].unit}",
            number(whole.median[k], QUANTITIES[k].decimals),
            number(whole.nine[k], QUANTITIES[k].decimals),
            percent(whole.within_ninety[k]),
        ]
        for k in range(len(QUANTITIES))
    ]
    plain = summarise([swing for lesson in lessons if not lesson.difficulties for swing in lesson.swings])
    others = [swing for swing in swings if not swing.hit]
    claimed = sum(bool(swing.made_up) for swing in others)
    return (
        f"On {count(len(lessons), 'rendered lesson')} (seed {run.seed}) with {count(whole.hits, 'hit')}, of which "
        f"{percent(whole.share)} were measured ({percent(plain.share)} on a field by day, phone on a tripod, nothing "
        f"before it):\n\n{table(['', 'median error', 'nine in ten within', 'truth inside the stated 90 %'], rows)}\n\n"
        f"Of {count(len(others), 'miss, foul tip or checked swing', 'misses, foul tips and checked swings')}, "
        f"{claimed} got numbers; {count(sum(wrong(swing) for swing in swings), 'hit')} got clearly wrong ones. "
        f"All this is rendered: no ball was filmed beside a radar yet. By set-up, with the statistical limit beside it "
        f"and what remains unknown: [docs/accuracy.md](docs/accuracy.md)."
    )


def how_made(run: Run, lessons: Sequence[LessonScore]) -> str:
    """Seed, versions, machine, counts."""
    swings = [swing for lesson in lessons for swing in lesson.swings]
    kinds = Counter(swing.true_outcome for swing in swings)
    done = (
        f"{len(lessons)} of {run.planned} planned lessons"
        if len(lessons) < run.planned
        else count(run.planned, "lesson")
    )
    others = ", ".join(count(kinds[kind], *KINDS[kind]) for kind in KINDS if kinds[kind])
    rendering = sum(lesson.render_s for lesson in lessons) / 60
    measuring = sum(lesson.measure_s for lesson in lessons) / 60
    hard = sum(bool(lesson.difficulties) for lesson in lessons)
    return "## How it was made\n\n" + bullets(
        f"`{run.command}`, run on {run.date} on a machine of {run.machine}, in {run.minutes:.1f} minutes "
        f"(rendering takes {rendering:.0f} and measuring {measuring:.0f} minutes of one core).",
        f"{done}, {count(len(swings), 'swing')}: {others}.",
        f"{count(len(lessons) - hard, 'ordinary lesson')} (outdoors, by day, on a tripod, nothing before the phone), "
        f"{hard} with one or two difficulties.",
        "Versions: " + "; ".join(f"{name} {each}" for name, each in run.versions.items()) + ".",
        "`python scripts/bench_accuracy.py --from docs/accuracy/result.json --report` writes this page again.",
    )


def overall(swings: Sequence[SwingScore]) -> str:
    """All judged numbers over all measured hits."""
    whole, rows = summarise(swings), []
    for k, q in enumerate(QUANTITIES):
        d = q.decimals
        rows.append(
            [
                f"{q.name}, {q.unit}",
                number(whole.bias[k], d, "+"), number(whole.median[k], d), number(whole.nine[k], d),
                percent(whole.within_half[k]), percent(whole.within_ninety[k]),
                number(whole.ratio[k], 2), number(whole.ratio_allowing[k], 2),
            ]
        )  # fmt: skip
    head = ["", "bias", "median error", "nine in ten within", "in stated 50 %", "in stated 90 %", "error / limit",
            "error / limit, biases allowed"]  # fmt: skip
    could = [swing for swing in swings if measurable(swing)]
    done = sum(swing.measured for swing in could)
    marks = table(["target", ""], [[mark.words, mark.verdict] for mark in verdicts(whole)])
    return (
        f"## Overall\n\n{whole.measured} of {count(whole.hits, 'hit')} were measured ({percent(whole.share)}); of the "
        f"{len(could)} that the statistical limit lets be known well enough to report, {done} "
        f"({percent(done / len(could) if could else np.nan)}). The figures are over the measured ones.{few(whole)}"
        f"\n\n{table(head, rows)}\n\n{chance(whole)}\n\n{marks}"
    )


def chance(whole: Summary) -> str:
    """How far coverage may lie from what is stated by luck alone."""
    if not whole.measured:
        return "No hit was measured."
    half, ninety = (coverage_range(share, whole.measured) for share in (0.5, 0.9))
    return (
        f"Were every interval right and every swing independent, nine in ten runs with {whole.measured} measured hits "
        f"would find {percent(half[0])} to {percent(half[1])} of the truth inside the stated 50 %, and "
        f"{percent(ninety[0])} to {percent(ninety[1])} inside the stated 90 %. The swings of one lesson share a camera "
        "and its error, so somewhat more spread is to be expected."
    )


def few(whole: Summary) -> str:
    """A warning where so few swings say little."""
    return f" **Only {count(whole.measured, 'swing')}: too few to conclude from.**" if whole.measured < FEW else ""


def beside_limit(whole: Summary, swings: Sequence[SwingScore]) -> str:
    """What the limit is, and what parts the errors from it."""
    done = [swing for swing in swings if swing.measured]
    seen = together([swing.sightings for swing in done])
    right = seen.among(seen.right)
    assumed = float(np.median(RADIAL_MEDIAN * row_sd_px(right.blur))) if len(right.blur) else np.nan
    frames = found_of("", seen)
    lines = []
    for k in range(TARGETED):
        q = QUANTITIES[k]
        lines.append(
            f"{q.name}: the median error is {number(whole.ratio[k], 2)} times what the limit allows if nothing is "
            f"biased, and {number(whole.ratio_allowing[k], 2)} times with the biases that the fit allows for."
        )
    lines += [
        f"of the {frames.sought} frames that show these balls clear, flights were fitted to {frames.found} "
        f"({percent(frames.found / frames.sought if frames.sought else np.nan)}).",
        f"centres lie {number(frames.median_px, 2)} px (median) from the true ones; the limit takes "
        f"{number(assumed, 2)} px.",
    ]
    return (
        f"## The error beside the statistical limit\n\n{LIMIT_WORDS}\n\nOver the {whole.limited} measured hits that "
        f"have a limit:\n\n{bullets(*lines)}\n\n{KNOWN_GAPS}"
    )


def by_set_up(lessons: Sequence[LessonScore]) -> str:
    """Two lines of figures a group: errors, then bias and coverage."""
    errors, honesty = [], []
    for side, name, swings in groups(lessons):
        s = summarise(swings)
        if not s.hits:
            continue
        where = [side, name + (" (few)" if s.measured < FEW else ""), str(s.hits), percent(s.share)]
        errors.append(
            where
            + [f"{number(s.median[k], _places(k))} / {number(s.nine[k], _places(k))}" for k in range(len(QUANTITIES))]
            + [number(s.ratio[0], 1)]
        )
        honesty.append(
            [*where[:2], str(s.measured)]
            + [
                f"{number(s.bias[k], _places(k), '+')} ; "
                f"{percent(s.within_half[k], '')} / {percent(s.within_ninety[k], '')}"
                for k in range(len(QUANTITIES))
            ]
        )
    names = [f"{q.name}, {q.unit}" for q in QUANTITIES]
    return (
        f"## By set-up\n\nA group marked (few) has under {FEW} measured hits: its figures are rough.\n\n"
        "Median of the error / nine in ten within; the last column is the exit speed's error over the limit:\n\n"
        + table(["", "", "hits", "measured", *names, "speed / limit"], errors)
        + "\n\nBias; percent of the truth inside the stated 50 % / 90 %:\n\n"
        + table(["", "", "measured", *names], honesty)
    )


def _places(k: int) -> int:
    return QUANTITIES[k].decimals


def not_hits(swings: Sequence[SwingScore]) -> str:
    """What was said where there was nothing to measure."""
    others = [swing for swing in swings if not swing.hit]
    called = ("no_contact", "not_measured", "no record", "measured")
    rows = []
    for kind in KINDS:
        among = Counter(swing.outcome for swing in others if swing.true_outcome == kind)
        if among:
            rows.append([KINDS[kind][0], str(among.total()), *(str(among[name]) for name in called)])
    false = [(swing, words) for swing in swings for words in swing.made_up]
    lines = [f"lesson {swing.lesson}, {swing.clip} ({KINDS[swing.true_outcome][0]}): {words}" for swing, words in false]
    return (
        f"## Swings that were no hits\n\n{count(len(false), 'record')} with numbers where there was no hit.\n\n"
        + table(["what it was", "swings", *(name.replace("_", " ") for name in called)], rows)
        + (f"\n\nFalse measurements:\n\n{bullets(*lines)}" if lines else "")
    )


def wrong_numbers(swings: Sequence[SwingScore]) -> str:
    """Measured hits whose numbers no uncertainty excuses."""
    bad = [swing for swing in swings if wrong(swing)]
    done = sum(swing.measured for swing in swings)
    return (
        f"## Wrong numbers\n\n{len(bad)} of {count(done, 'measured hit')} have an exit speed, launch or spray off "
        f"by more than {WRONG_SDS:.0f} of the stated sd, or an exit speed off by more than {WRONG_MPH:.0f} mph."
        + (f"\n\n{bullets(*(_off(swing) for swing in bad))}" if bad else "")
    )


def not_measured(swings: Sequence[SwingScore]) -> str:
    """The hits without numbers, by the reason given."""
    lost = [swing for swing in swings if swing.hit and not swing.measured]
    if not lost:
        return "## Hits not measured\n\nNone."
    reasons = Counter((swing.outcome.replace("_", " "), re.sub(r"\d+(\.\d+)?", "N", swing.reason)) for swing in lost)
    rows = [[str(times), outcome, reason] for (outcome, reason), times in reasons.most_common()]
    frames, vain = [swing.limit.frames for swing in lost], sum(not measurable(swing) for swing in lost)
    return (
        f"## Hits not measured\n\n{count(len(lost), 'hit')}. The ball flew clear in {np.median(frames):.0f} frames "
        f"(median over these hits). For {vain} of them even the limit is vaguer than what the program reports.\n\n"
        + table(["hits", "called", "reason given"], rows)
    )


def finding(swings: Sequence[SwingScore]) -> str:
    """Recall, precision and centre error by size, blur and contrast."""
    seen = together([swing.sightings for swing in swings])
    all_of = found_of("all", seen)
    on_ball = all_of.right / (all_of.used + seen.stray) if all_of.used + seen.stray else np.nan
    parts = [
        "## Finding the ball",
        f"{all_of.found} of the {all_of.sought} frames that show a hit ball flying, clear and at least 4 px wide, gave "
        f"the flight a place on it (recall {percent(all_of.found / all_of.sought if all_of.sought else np.nan)}). Of "
        f"the {all_of.used + seen.stray} places that flights were fitted to, {all_of.right} lie on it (precision "
        f"{percent(on_ball)}), that is within 1.5 px and a tenth of its diameter; {seen.stray} are of frames in which "
        "no batted ball flies. Frames of lost hits count as not found, and those of a flight that was then refused as "
        "used. In the tables, precision is over frames with the ball.",
        _found_table("diameter, px", found_by("diameter", swings)),
        _found_table("blur, streak in diameters", found_by("blur", swings)),
        _found_table("contrast, codes of 255", found_by("contrast", swings)),
    ]
    return "\n\n".join(parts)


def _found_table(name: str, classes: Sequence[Found]) -> str:
    rows = [
        [
            each.name, str(each.sought), percent(each.found / each.sought if each.sought else np.nan), str(each.used),
            percent(each.right / each.used if each.used else np.nan),
            number(each.median_px, 2), number(each.nine_px, 2),
        ]
        for each in classes
    ]  # fmt: skip
    head = [
        name,
        "frames sought",
        "recall",
        "frames used",
        "precision",
        "centre off by, px (median)",
        "nine in ten within",
    ]
    return table(head, rows)


def worst(swings: Sequence[SwingScore]) -> str:
    """The largest errors, in shares of what nine in ten keep to."""
    done = [swing for swing in swings if swing.measured]
    nine = summarise(done).nine[:TARGETED]
    done.sort(key=lambda swing: -float(np.max(np.abs(swing.error[:TARGETED]) / nine)))
    return "## The worst swings\n\nError (stated sd; limit):\n\n" + bullets(*(_off(swing) for swing in done[:WORST]))


def _off(swing: SwingScore) -> str:
    words = ", ".join(
        f"{q.name} {swing.error[k]:+.2f} ({swing.sd[k]:.2f}; {number(swing.limit.unbiased[k], 2)}) {q.unit}"
        for k, q in enumerate(QUANTITIES[:TARGETED])
    )
    seen = swing.sightings
    return (
        f"lesson {swing.lesson}, {swing.clip}: {words}; fitted to {int(seen.used.sum()) + seen.stray} frames, "
        f"{int(seen.right.sum())} of them on the ball, of {int(seen.sought.sum())} that show it clear"
    )


def faults(lessons: Sequence[LessonScore]) -> str:
    """What the command itself did wrong."""
    lines = [f"lesson {lesson.number} ({lesson.title}): {fault}" for lesson in lessons for fault in lesson.faults]
    return f"## Faults of the command\n\n{bullets(*lines)}" if lines else ""
