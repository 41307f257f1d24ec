"""A player over weeks and months: each lesson's medians with their intervals, and what changed from lesson to lesson.

Like is compared with like: swings at a tee with swings at a tee, with the same ball, from the same side of the plate.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from balltrack.lesson import Delivery
from balltrack.records.logbook.read import KeptLesson
from balltrack.review.change import Change, compare
from balltrack.review.groups import Group
from balltrack.review.language import say
from balltrack.review.quantity import KINDS, Quantity, sample_of
from balltrack.review.resample import interval_of
from balltrack.review.stat import Stat

FOLLOWED: tuple[Quantity, ...] = ("exit_speed", "launch", "spray", "depth", "carry")  # misses are counted
COMPARED: tuple[Quantity, ...] = (*FOLLOWED, "misses")
_ORDER: tuple[Delivery | None, ...] = ("tee", "toss", "live", None)


@dataclass(frozen=True, slots=True)
class Kind:
    """What makes swings comparable."""

    delivery: Delivery | None  # None where lesson.toml does not say
    ball: str
    bats: str


def delivered(delivery: Delivery | None) -> str:
    """How the balls came, as it begins a heading."""
    return say(f"delivered_{delivery or 'unstated'}")


@dataclass(frozen=True, slots=True)
class Point:
    """The swings of one lesson that are of one kind."""

    lesson: KeptLesson
    group: Group

    def median(self, quantity: Quantity) -> Stat:
        """With an interval where there are swings enough; the camera's part in it does not shrink with their number."""
        kind = KINDS[quantity]
        sample = sample_of(self.group.swings, self.group.numbers, kind)
        value = float(kind.statistic(sample.values)) if sample.numbers else None
        if len(sample.numbers) < kind.fewest:
            return Stat(value, sample.numbers)
        interval = interval_of(sample, kind.statistic, shared=True)
        return Stat(value, sample.numbers, interval.low, interval.high)

    @property
    def misses(self) -> int:
        """Swings without contact."""
        return sum(swing.outcome == "no_contact" for swing in self.group.swings)


@dataclass(frozen=True, slots=True)
class Series:
    """Swings of one kind through the lessons, the first lesson first."""

    kind: Kind
    points: tuple[Point, ...]

    def change_since(self, before: int, quantity: Quantity) -> Change:
        """From the lesson at that place in ``points`` to the last."""
        return compare(self.points[before].group, self.points[-1].group, quantity, same_camera=False)


def series_of(lessons: Sequence[KeptLesson]) -> tuple[Series, ...]:
    """All kinds of swings that a player's lessons hold; off the tee first.

    Parameters
    ----------
    lessons : sequence of KeptLesson
        Of one player, by day.
    """
    found: dict[Kind, list[Point]] = {}
    for lesson in lessons:
        for delivery in _ORDER:
            group = _group(lesson, delivery)
            if group.swings:
                found.setdefault(Kind(delivery, lesson.ball, lesson.bats), []).append(Point(lesson, group))
    kinds = sorted(found, key=lambda kind: (_ORDER.index(kind.delivery), kind.ball, kind.bats))
    return tuple(Series(kind, tuple(found[kind])) for kind in kinds)


def _group(lesson: KeptLesson, delivery: Delivery | None) -> Group:
    """The swings of a lesson that were delivered so, and that nobody left out."""
    delivered = {block.name: block.delivery for block in lesson.blocks}
    rows = [
        (number, swing)
        for number, swing in enumerate(lesson.swings, start=1)
        if not swing.excluded and cast("Delivery | None", delivered.get(swing.block)) == delivery
    ]
    return Group(
        key=lesson.id,
        title=lesson.held_on.isoformat(),
        swings=tuple(swing for _, swing in rows),
        numbers=tuple(number for number, _ in rows),
        deliveries=(delivery,) * len(rows),
        bats=lesson.bats,
    )
