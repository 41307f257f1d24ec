"""A group of swings in numbers. Each carries the numbers of the swings behind it, so that anyone can follow it back."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.records.swing import Swing
from balltrack.records.wording import NINE_IN_TEN
from balltrack.review.bands import FLIGHTS, FOUL_DEG, TIMINGS, Bands, Zone, timing
from balltrack.review.groups import Group
from balltrack.review.own_best import OwnBest
from balltrack.review.quantity import FEWEST, KINDS, Quantity, sample_of
from balltrack.review.resample import interval_of
from balltrack.review.stat import Numbers, Share, Spread, Stat

SIDES = ("pull", "middle", "opposite")
FEWEST_OF_QUARTILES = 4
NEVER_NEGATIVE = ("exit_speed", "carry")


@dataclass(frozen=True, slots=True)
class Tally:
    """All numbers of one group. SI; angles in degrees."""

    key: str
    title: str
    swings: Numbers
    measured: Numbers
    misses: Numbers
    not_measured: Numbers
    excluded: Numbers  # left out by a person, and counted nowhere else
    exit_speed: Stat  # median
    exit_speed_best: Stat
    carry: Stat  # median
    carry_best: Stat
    launch: Stat  # median
    launch_spread: Spread
    spray: Stat  # median
    spray_spread: Spread
    depth: Stat  # median; positive ahead of the plate's front edge
    depth_spread: Spread
    sides: tuple[Share, ...]  # pull, middle, opposite, by the first direction; foul balls among them
    foul: Share  # first direction outside the foul lines
    flights: tuple[Share, ...]  # ground ball .. pop-up
    timings: tuple[Share, ...]  # by the usual zones; tee balls apart
    own_timings: tuple[Share, ...]  # by the player's own zone; empty where that is not known
    hard: Share | None  # None where the player's own distribution is not known
    well_hit: Share | None
    over_fence: Stat | None  # how many would clear it, as the sum of the chances; None without a fence

    @property
    def miss_share(self) -> Share:
        return Share("misses", self.misses, len(self.swings))


def tally(group: Group, bands: Bands, own: OwnBest | None) -> Tally:
    """Sum up a group by stated bands and the player's own yardstick (`own_best`; None leaves hard and well hit out)."""
    hits = _Hits(group)
    return Tally(
        key=group.key,
        title=group.title,
        swings=group.numbers,
        measured=hits.numbers,
        misses=_of_outcome(group, "no_contact"),
        not_measured=_of_outcome(group, "not_measured"),
        excluded=group.excluded,
        exit_speed=_median(group, "exit_speed"),
        exit_speed_best=_best(group, "exit_speed"),
        carry=_median(group, "carry"),
        carry_best=_best(group, "carry"),
        launch=_median(group, "launch"),
        launch_spread=_quartiles(group, "launch"),
        spray=_median(group, "spray"),
        spray_spread=_quartiles(group, "spray"),
        depth=_median(group, "depth"),
        depth_spread=_quartiles(group, "depth"),
        sides=tuple(hits.share(side, [s.field_side == side for s in hits.swings]) for side in SIDES),
        foul=hits.share("foul", [s.spray_deg is not None and abs(s.spray_deg) > FOUL_DEG for s in hits.swings]),
        flights=hits.flights(bands),
        timings=_timings(group, bands),
        own_timings=() if own is None or own.zone_m is None else _timings(group, own.zone_m),
        hard=None if own is None else hits.share("hard", [own.is_hard(s) for s in hits.swings]),
        well_hit=None if own is None else hits.share("well hit", [own.is_well_hit(s) for s in hits.swings]),
        over_fence=_over_fence(group),
    )


def _median(group: Group, quantity: Quantity) -> Stat:
    """The median of one quantity, with its interval from five swings up."""
    sample = sample_of(group.swings, group.numbers, KINDS[quantity])
    if not sample.numbers:
        return Stat(None, ())
    middle = float(np.median(sample.values))
    if len(sample.numbers) < FEWEST:
        return Stat(middle, sample.numbers)
    interval = interval_of(sample, np.median)
    low = max(interval.low, 0.0) if quantity in NEVER_NEGATIVE else interval.low
    return Stat(middle, sample.numbers, low, interval.high)


class _Hits:
    """The measured swings of a group, and shares of them."""

    def __init__(self, group: Group) -> None:
        hits = [(s, n) for s, n in zip(group.swings, group.numbers, strict=True) if s.outcome == "measured"]
        self.swings: tuple[Swing, ...] = tuple(swing for swing, _ in hits)
        self.numbers: Numbers = tuple(number for _, number in hits)

    def share(self, name: str, meant: Sequence[bool]) -> Share:
        numbers = tuple(number for number, is_meant in zip(self.numbers, meant, strict=True) if is_meant)
        return Share(name, numbers, len(self.numbers))

    def flights(self, bands: Bands) -> tuple[Share, ...]:
        kinds = [None if s.launch_deg is None else bands.flight(s.launch_deg) for s in self.swings]
        return tuple(self.share(kind, [each == kind for each in kinds]) for kind in FLIGHTS)


def _of_outcome(group: Group, outcome: str) -> Numbers:
    return tuple(n for swing, n in zip(group.swings, group.numbers, strict=True) if swing.outcome == outcome)


def _best(group: Group, quantity: Quantity) -> Stat:
    """The highest reading; one of poor quality only where there is no other, since its error may have made it so."""
    kind = KINDS[quantity]
    readings = [
        (swing.quality != "poor", value, number, kind.sd(swing))
        for swing, number in zip(group.swings, group.numbers, strict=True)
        if (value := kind.value(swing)) is not None
    ]
    if not readings:
        return Stat(None, ())
    _, value, number, sd = max(readings, key=lambda reading: reading[:2])
    reach = None if sd is None else NINE_IN_TEN * sd
    return Stat(value, (number,), None if reach is None else value - reach, None if reach is None else value + reach)


def _quartiles(group: Group, quantity: Quantity) -> Spread:
    sample = sample_of(group.swings, group.numbers, KINDS[quantity])
    error_sd = float(np.sqrt(np.mean(sample.sds**2))) if sample.numbers else None
    if len(sample.numbers) < FEWEST_OF_QUARTILES:
        return Spread(None, None, sample.numbers, error_sd)
    low, high = (float(quartile) for quartile in np.percentile(sample.values, [25, 75]))
    return Spread(low, high, sample.numbers, error_sd)


def _timings(group: Group, zones: Bands | Zone) -> tuple[Share, ...]:
    """Of the balls whose contact was measured, tee balls apart: how many were met early, on time ..."""
    words = [
        (timing(swing, delivery, group.bats, zones), number)
        for swing, number, delivery in zip(group.swings, group.numbers, group.deliveries, strict=True)
    ]
    said = [(word, number) for word, number in words if word is not None]
    return tuple(Share(name, tuple(number for word, number in said if word == name), len(said)) for name in TIMINGS)


def _over_fence(group: Group) -> Stat | None:
    chances = [
        (swing.fence_clear_probability, number)
        for swing, number in zip(group.swings, group.numbers, strict=True)
        if swing.fence_clear_probability is not None
    ]
    if not chances:
        return None
    return Stat(sum(chance for chance, _ in chances), tuple(number for _, number in chances))
