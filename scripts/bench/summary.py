"""Many swings in a few numbers, and whether they meet the targets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats
from bench.detection import Detection, together
from bench.quantity import QUANTITIES
from bench.run import LessonScore, SwingScore

# The targets: share of hits measured; median and nine-in-ten errors of exit speed (mph), launch and spray (deg).
TARGET_SHARE = 0.85
TARGET_MEDIAN = (1.5, 0.6, 0.8)
TARGET_NINE = (4.0, 1.5, 2.0)
TARGETED = len(TARGET_MEDIAN)  # the first of the quantities
HALF, NINETY = 0.6745, 1.6449  # half-widths of the intervals that hold 50 and 90 in 100, in sd of a normal law


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """Of a group of swings. Errors are over measured hits, each (7,), NaN where there are none."""

    swings: int
    hits: int
    measured: int  # hits
    fit_to_truth: int  # hits that a fit to the true pixels can measure
    made_up: int  # records with numbers where there was no hit
    misses: int
    called_misses: int  # of these, recorded as no_contact
    bias: Floats
    median: Floats  # of the absolute error
    nine: Floats  # nine in ten absolute errors are below
    within_half: Floats  # share of truth within the stated 50 % interval
    within_ninety: Floats
    floor_median: Floats  # of the fits to the true pixels of the same hits
    floor_nine: Floats
    detection: Detection

    @property
    def share(self) -> float:
        """Share of the hits that were measured; NaN without hits."""
        return self.measured / self.hits if self.hits else float("nan")

    @property
    def ratio(self) -> Floats:
        """(7,) median error over that of the fits to the true pixels."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(self.median / self.floor_median)


def summarise(swings: Sequence[SwingScore]) -> Summary:
    """Put a group together."""
    hits = [swing for swing in swings if swing.hit]
    misses = [swing for swing in swings if not swing.hit]
    done = [swing for swing in hits if swing.outcome == "measured"]
    error = _stack([swing.error for swing in done])
    off = np.abs(error)
    sd = _stack([swing.sd for swing in done])
    least = np.abs(_stack([swing.floor.error for swing in done]))
    least = least[np.isfinite(least[:, 0])]
    return Summary(
        swings=len(swings),
        hits=len(hits),
        measured=len(done),
        fit_to_truth=sum(not swing.floor.reason for swing in hits),
        made_up=sum(len(swing.made_up) for swing in swings),
        misses=len(misses),
        called_misses=sum(swing.outcome == "no_contact" for swing in misses),
        bias=_mean(error),
        median=_quantile(off, 0.5),
        nine=_quantile(off, 0.9),
        within_half=_mean(off <= HALF * sd),
        within_ninety=_mean(off <= NINETY * sd),
        floor_median=_quantile(least, 0.5),
        floor_nine=_quantile(least, 0.9),
        detection=together([swing.detection for swing in swings]),
    )


def _stack(rows: Sequence[Floats]) -> Floats:
    return np.array(rows).reshape(-1, len(QUANTITIES))


def _quantile(rows: Floats, share: float) -> Floats:
    return np.quantile(rows, share, axis=0) if len(rows) else np.full(len(QUANTITIES), np.nan)


def _mean(rows: Floats | NDArray[np.bool_]) -> Floats:
    return np.asarray(rows.mean(axis=0)) if len(rows) else np.full(len(QUANTITIES), np.nan)


def groups(lessons: Sequence[LessonScore]) -> list[tuple[str, Summary]]:
    """All swings, then by camera place, frame rate, ball and delivery, then lesson by lesson."""
    every = [(lesson, swing) for lesson in lessons for swing in lesson.swings]
    out = [("all", summarise([swing for _, swing in every]))]
    for names in (
        [_place(lesson.lesson.spec.place) for lesson, _ in every],
        [f"{lesson.lesson.spec.fps:3.0f} frames/s" for lesson, _ in every],
        [lesson.lesson.spec.ball_kind for lesson, _ in every],
        [swing.delivery for _, swing in every],
        [f"{lesson.lesson.number:2d} {lesson.lesson.title}" for lesson, _ in every],
    ):
        for name in sorted(set(names)):
            among = [swing for (_, swing), each in zip(every, names, strict=True) if each == name]
            out.append((name, summarise(among)))
    return out


def _place(place: str) -> str:
    return {"behind": "behind the plate", "side": "side-on"}.get(place, "45 degrees")


@dataclass(frozen=True, slots=True)
class Verdict:
    """One target, and whether it is met."""

    words: str
    met: bool


def verdicts(whole: Summary, faults: int) -> list[Verdict]:
    """Each target in turn. What cannot be told, for want of swings, is not met."""
    out = [
        Verdict(f"{100 * whole.share:.0f} % of hits measured (at least {100 * TARGET_SHARE:.0f} %)",
                whole.share >= TARGET_SHARE)
    ]  # fmt: skip
    for k in range(TARGETED):
        q = QUANTITIES[k]
        out.append(
            Verdict(
                f"{q.name}: median {whole.median[k]:.2f} (under {TARGET_MEDIAN[k]:g}), "
                f"nine in ten within {whole.nine[k]:.2f} (under {TARGET_NINE[k]:g}) {q.unit}",
                bool(whole.median[k] < TARGET_MEDIAN[k] and whole.nine[k] < TARGET_NINE[k]),
            )
        )
    out.append(Verdict(f"{whole.made_up} records with numbers without a hit (none)", whole.made_up == 0))
    out.append(Verdict(f"{faults} faults of the command (none)", faults == 0))
    return out
