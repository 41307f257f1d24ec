"""Many swings in a few numbers, and whether they meet the targets."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.records.describe import VAGUE_LAUNCH_SD_DEG, VAGUE_SPEED_SD_MPS, VAGUE_SPRAY_SD_DEG
from balltrack.units import MPS_PER_MPH, Floats
from bench.detection import Sightings, together
from bench.quantity import QUANTITIES
from bench.swing_score import LessonScore, SwingScore

HALF, NINETY = 0.6745, 1.6449  # half-widths of the intervals that hold 50 and 90 in 100, in sd of a normal law
TARGETED = 3  # exit speed, launch and spray: the first of the quantities
FEWEST_SWINGS = 200  # for the targets to be judged
COVERAGE_TARGET = (0.80, 0.97)  # share of truth inside the stated 90 %
RATIO_TARGET = 2.0
# A number further off than this is wrong rather than uncertain.
WRONG_SDS, WRONG_MPH = 5.0, 15.0
CLASSES: dict[str, tuple[float, ...]] = {
    "diameter": (0.0, 4.0, 6.0, 9.0, 14.0, 22.0, np.inf),
    "blur": (0.0, 0.25, 0.5, 1.0, 2.0, 3.0, np.inf),
    "contrast": (0.0, 10.0, 20.0, 40.0, 80.0, np.inf),
}


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """Of a group of swings. Errors are over measured hits, each (7,), NaN where there are none."""

    hits: int
    measured: int  # of these
    bias: Floats
    median: Floats  # of the absolute error
    nine: Floats  # nine in ten absolute errors are below
    within_half: Floats  # share of truth within the stated 50 % interval
    within_ninety: Floats
    ratio: Floats  # to the limit with unbiased sizes
    ratio_allowing: Floats  # to the limit that allows for biased sizes
    limited: int  # measured hits that have a limit

    @property
    def share(self) -> float:
        """Share of the hits that were measured; NaN without hits."""
        return self.measured / self.hits if self.hits else float("nan")


def summarise(swings: Sequence[SwingScore]) -> Summary:
    """Put a group together."""
    done = [swing for swing in swings if swing.measured]
    error = _stack([swing.error for swing in done])
    off, sd = np.abs(error), _stack([swing.sd for swing in done])
    tight = _stack([swing.limit.unbiased for swing in done])
    loose = _stack([swing.limit.allowing for swing in done])
    return Summary(
        hits=sum(swing.hit for swing in swings),
        measured=len(done),
        bias=_mean(error),
        median=_quantile(off, 0.5),
        nine=_quantile(off, 0.9),
        within_half=_mean(off <= HALF * sd),
        within_ninety=_mean(off <= NINETY * sd),
        ratio=ratio(off, tight),
        ratio_allowing=ratio(off, loose),
        limited=int(np.isfinite(tight[:, 0]).sum()),
    )


def ratio(off: Floats, limit_sd: Floats) -> Floats:
    """(7,) median of error over limit, as a share of what a normal error of that very sd would give; 1: at the limit.

    Half of all draws of a normal law lie within 0.6745 sd.
    """
    known = np.isfinite(limit_sd[:, 0])
    return _quantile(off[known] / limit_sd[known], 0.5) / HALF


def coverage(swings: Sequence[SwingScore], stated: Floats) -> Floats:
    """(m, 7) share of truth inside the intervals stated to hold each of (m,) shares."""
    from scipy.stats import norm

    done = [swing for swing in swings if swing.measured]
    in_sds = np.abs(_stack([swing.error for swing in done])) / _stack([swing.sd for swing in done])
    return np.array([_mean(in_sds <= norm.ppf(0.5 + 0.5 * share)) for share in stated])


def coverage_range(share: float, swings: int) -> tuple[float, float]:
    """Between which shares nine in ten groups of so many independent swings would lie, were ``share`` true."""
    from scipy.stats import binom

    if not swings:
        return float("nan"), float("nan")
    return float(binom.ppf(0.05, swings, share)) / swings, float(binom.ppf(0.95, swings, share)) / swings


def _stack(rows: Sequence[Floats]) -> Floats:
    return np.array(rows, dtype=float).reshape(-1, len(QUANTITIES))


def _quantile(rows: Floats, share: float) -> Floats:
    return np.quantile(rows, share, axis=0) if len(rows) else np.full(len(QUANTITIES), np.nan)


def _mean(rows: Floats | NDArray[np.bool_]) -> Floats:
    return np.asarray(rows.mean(axis=0)) if len(rows) else np.full(len(QUANTITIES), np.nan)


def measurable(swing: SwingScore) -> bool:
    """Whether the best of fits, biases allowed for, would know this hit well enough for the program to report it."""
    vague = (VAGUE_SPEED_SD_MPS / MPS_PER_MPH, VAGUE_LAUNCH_SD_DEG, VAGUE_SPRAY_SD_DEG)
    return swing.hit and bool(np.all(swing.limit.allowing[:TARGETED] <= vague))


def wrong(swing: SwingScore) -> bool:
    """Whether a measured hit's speed or angles are off by more than any uncertainty excuses."""
    off = np.abs(swing.error[:TARGETED])
    return swing.measured and bool(off[0] > WRONG_MPH or np.any(off > WRONG_SDS * swing.sd[:TARGETED]))


def groups(lessons: Sequence[LessonScore]) -> list[tuple[str, str, list[SwingScore]]]:
    """Side of the set-up, what it was, and its swings; sides in the order of the lessons' tags."""
    out: list[tuple[str, str, list[SwingScore]]] = []
    sides: dict[str, Callable[[LessonScore, SwingScore], tuple[str, ...]]] = {
        "lesson": lambda lesson, _: ("with a difficulty" if lesson.difficulties else "ordinary",),
        "difficulty": lambda lesson, _: lesson.difficulties,
        **{side: _tag(side) for side in (lessons[0].tags if lessons else ())},
        "delivery": lambda _, swing: (swing.delivery,),
    }
    for side, names_of in sides.items():
        found: dict[str, list[SwingScore]] = {}
        for lesson in lessons:
            for swing in lesson.swings:
                for name in names_of(lesson, swing):
                    found.setdefault(name, []).append(swing)
        if len(found) > 1 or side == "difficulty":  # what never varied says nothing
            out += [(side, name, found[name]) for name in sorted(found, key=_natural)]
    return out


def _tag(side: str) -> Callable[[LessonScore, SwingScore], tuple[str, ...]]:
    return lambda lesson, _: (lesson.tags[side],)


def _natural(name: str) -> tuple[float, str]:
    """Numbers by their size, then words."""
    first = name.split()[0]
    return (float(first), name) if first.replace(".", "", 1).isdigit() else (np.inf, name)


@dataclass(frozen=True, slots=True)
class Found:
    """How well the ball was found in one class of frames."""

    name: str
    sought: int
    found: int  # of these
    used: int  # frames with the ball that flights were fitted to
    right: int  # of these
    median_px: float  # distance of a used row on the ball from the true centre
    nine_px: float


def found_of(name: str, seen: Sightings) -> Found:
    """Of any frames."""
    error = seen.error_px[seen.right]
    median, nine = (float(np.quantile(error, share)) if len(error) else np.nan for share in (0.5, 0.9))
    return Found(
        name=name,
        sought=int(seen.sought.sum()),
        found=int((seen.sought & seen.right).sum()),
        used=int(seen.used.sum()),
        right=int(seen.right.sum()),
        median_px=median,
        nine_px=nine,
    )


def found_by(kind: str, swings: Sequence[SwingScore]) -> list[Found]:
    """By diameter [px], blur [diameters] or contrast [codes]; classes without frames are left out."""
    seen = together([swing.sightings for swing in swings])
    values = {"diameter": seen.diameter_px, "blur": seen.blur, "contrast": np.abs(seen.contrast)}[kind]
    edges = CLASSES[kind]
    out = []
    for low, high in itertools.pairwise(edges):
        among = (values >= low) & (values < high)
        if among.any():
            name = f"{low:g} and more" if np.isinf(high) else f"{low:g} to {high:g}"
            out.append(found_of(name, seen.among(among)))
    return out


@dataclass(frozen=True, slots=True)
class Verdict:
    """One target, and whether it is met."""

    words: str
    verdict: str  # met | not met | too few swings


def verdicts(whole: Summary) -> list[Verdict]:
    """Each target in turn. Where there are too few swings they say nothing of it."""
    enough = whole.measured >= FEWEST_SWINGS
    low, high = COVERAGE_TARGET
    out = [Verdict(f"at least {FEWEST_SWINGS} hits measured: {whole.measured}", "met" if enough else "not met")]
    for k in range(TARGETED):
        name, share, apart = QUANTITIES[k].name, whole.within_ninety[k], whole.ratio[k]
        for words, met in (
            (f"{100 * low:.0f} to {100 * high:.0f} % of the truth inside the stated 90 %: {_percent(share)}",
             bool(low <= share <= high)),
            (f"median error under {RATIO_TARGET:g} times the limit: {_number(apart)}", bool(apart < RATIO_TARGET)),
        ):  # fmt: skip
            verdict = "too few swings" if not enough else "met" if met else "not met"
            out.append(Verdict(f"{name}, {words}", verdict))
    return out


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if np.isfinite(share) else "-"


def _number(value: float) -> str:
    return f"{value:.1f}" if np.isfinite(value) else "-"
