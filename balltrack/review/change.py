"""Did it change? Two groups of swings side by side, with an interval and a verdict that does not claim too much."""

from dataclasses import dataclass, replace
from typing import Literal

from balltrack.review.groups import Group
from balltrack.review.language import listed, say
from balltrack.review.quantity import FEWEST, KINDS, Kind, Quantity, Sample, sample_of
from balltrack.review.resample import LEVEL, chance_of, difference_interval
from balltrack.review.share_interval import chance_of_shares, difference_of_shares
from balltrack.review.stat import Share, Stat

Verdict = Literal["up", "down", "not clear", "too few"]


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity of two groups. SI, degrees, or for misses a share of the swings."""

    quantity: Quantity
    before: Stat
    after: Stat
    difference: float | None  # after less before
    low: float | None  # nine in ten: the difference for this player lies between low ..
    high: float | None  # .. and high
    verdict: Verdict
    chance: float | None = None  # of a difference as large were there none: the permutation test's
    fewest: int = FEWEST  # swings needed on each side
    caution: str = ""  # why more than the player may have changed it


def compare(before: Group, after: Group, quantity: Quantity, same_camera: bool = True) -> Change:
    """What changed from one group of swings to another.

    Parameters
    ----------
    before, after : Group
    quantity : Quantity
        Medians; of the two spreads the standard deviation; of the misses their share.
    same_camera : bool
        False where the groups are of two lessons: each lesson's camera errs in its own way, and more swings do not
        mend that (see `difference_interval`).

    Returns
    -------
    Change
        "up" or "down" only where the whole interval lies on that side. Nine in ten intervals hold what they claim, so
        one comparison in ten of swings that did not change says "up" or "down" all the same: who looks at many
        comparisons finds some.
    """
    found = _misses(before, after) if quantity == "misses" else _measured(before, after, quantity, same_camera)
    return replace(found, caution=_caution(before, after))


def _measured(before: Group, after: Group, quantity: Quantity, same_camera: bool) -> Change:
    kind = KINDS[quantity]
    first = sample_of(before.swings, before.numbers, kind)
    last = sample_of(after.swings, after.numbers, kind)
    if min(len(first.numbers), len(last.numbers)) < kind.fewest:
        return _too_few(quantity, _stat(first, kind), _stat(last, kind), kind.fewest)
    was, now = float(kind.statistic(first.values)), float(kind.statistic(last.values))
    interval = difference_interval(first, last, kind.statistic, shared=not same_camera)
    return Change(
        quantity=quantity,
        before=Stat(was, first.numbers),
        after=Stat(now, last.numbers),
        difference=now - was,
        low=interval.low,
        high=interval.high,
        verdict=_verdict(interval.low, interval.high),
        chance=chance_of(first, last, kind.statistic),
        fewest=kind.fewest,
    )


def _stat(sample: Sample, kind: Kind) -> Stat:
    enough = len(sample.numbers) >= (1 if kind.fewest == FEWEST else 2)
    return Stat(float(kind.statistic(sample.values)) if enough else None, sample.numbers)


def _too_few(quantity: Quantity, before: Stat, after: Stat, fewest: int) -> Change:
    return Change(quantity, before, after, None, None, None, "too few", None, fewest)


def _misses(before: Group, after: Group) -> Change:
    """Shares of all swings that count; a hit that could not be measured is a hit."""
    was, now = _missed(before), _missed(after)
    first, last = Stat(was.share, before.numbers), Stat(now.share, after.numbers)
    if min(was.of, now.of) < FEWEST or was.share is None or now.share is None:
        return _too_few("misses", first, last, FEWEST)
    low, high = difference_of_shares(was, now, LEVEL)
    return Change(
        quantity="misses",
        before=first,
        after=last,
        difference=now.share - was.share,
        low=low,
        high=high,
        verdict=_verdict(low, high),
        chance=chance_of_shares(was, now),
    )


def _missed(group: Group) -> Share:
    missed = [n for swing, n in zip(group.swings, group.numbers, strict=True) if swing.outcome == "no_contact"]
    return Share("misses", tuple(missed), len(group.swings))


def _verdict(low: float, high: float) -> Verdict:
    return "up" if low > 0 else "down" if high < 0 else "not clear"


def _caution(before: Group, after: Group) -> str:
    """Another delivery is another task: a live pitch brings speed of its own, a tee none."""
    kinds = [set(group.deliveries) for group in (before, after)]
    if not all(kinds):
        return ""
    if kinds[0] == kinds[1]:
        told = None not in kinds[0] or {s.block for s in before.swings} == {s.block for s in after.swings}
        return "" if told else say("caution_unstated")
    first, last = (listed(sorted(say(f"inside_{each or 'unstated'}") for each in kind)) for kind in kinds)
    return say("caution_unlike", before=first, after=last)
