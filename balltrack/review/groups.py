"""Swings that are looked at together: the whole lesson, each block, and the first against the last."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain

from balltrack.lesson import Delivery, Lesson
from balltrack.records.swing import Swing
from balltrack.review.language import say

MOST_OF_AN_END = 10  # swings of one kind that count as the first, and as the last


@dataclass(frozen=True, slots=True)
class Group:
    """Swings that count, each with its number in swings.jsonl (from 1) and how its ball was delivered."""

    key: str  # "lesson", the name of a block, "first", "last"
    title: str  # as it stands alone; see `inside`
    swings: tuple[Swing, ...]
    numbers: tuple[int, ...]
    deliveries: tuple[Delivery | None, ...]  # None where lesson.toml does not say
    bats: str  # right | left
    excluded: tuple[int, ...] = ()  # numbers of swings that a person left out: they count nowhere

    @property
    def inside(self) -> str:
        """The title within a sentence: another one only where this program itself called the group so."""
        return _end_title(f"inside_{self.key}", self) if self.key in ("first", "last") else self.title

    def of(self, rows: Sequence[int], key: str, title: str) -> "Group":
        """Some of the swings, by their places in this group."""
        return Group(
            key=key,
            title=title,
            swings=tuple(self.swings[row] for row in rows),
            numbers=tuple(self.numbers[row] for row in rows),
            deliveries=tuple(self.deliveries[row] for row in rows),
            bats=self.bats,
        )


def lesson_group(lesson: Lesson, swings: Sequence[Swing]) -> Group:
    """All swings of a lesson, in the order of swings.jsonl, less takes and those that a person left out."""
    delivered = {block.name: block.delivery for block in lesson.blocks}
    counted = [(number, swing) for number, swing in enumerate(swings, start=1) if swing.counts]
    return Group(
        key="lesson",
        title=say("whole"),
        swings=tuple(swing for _, swing in counted),
        numbers=tuple(number for number, _ in counted),
        deliveries=tuple(delivered.get(swing.block) for _, swing in counted),
        bats=lesson.player.bats,
        excluded=tuple(number for number, swing in enumerate(swings, start=1) if swing.excluded),
    )


def groups_of(lesson: Lesson, swings: Sequence[Swing]) -> tuple[Group, ...]:
    """The whole lesson, then each block that has swings, in the order of the lesson."""
    whole = lesson_group(lesson, swings)
    left_out = {number: swings[number - 1].block for number in whole.excluded}
    blocks = []
    for block in lesson.blocks:
        rows = [row for row, swing in enumerate(whole.swings) if swing.block == block.name]
        excluded = tuple(number for number, name in left_out.items() if name == block.name)
        if rows or excluded:
            blocks.append(replace(whole.of(rows, block.name, block.title), excluded=excluded))
    return whole, *blocks


def first_and_last(group: Group) -> tuple[Group, Group]:
    """The first swings of a group and its last: of each kind of delivery as many, at most ten and never the same twice.

    A lesson often begins on a tee and ends with live pitches. Its plain ends would show the pitch and not the player:
    so first and last are taken from the tee's swings, from the tossed and from the live ones, each by itself. Where
    the lesson does not say how balls were delivered, each block is a kind.
    """
    kinds: dict[str, list[int]] = {}
    for row, kind in enumerate(_kinds(group)):
        kinds.setdefault(kind, []).append(row)
    ends = [(rows, min(MOST_OF_AN_END, len(rows) // 2)) for rows in kinds.values()]
    first = sorted(chain.from_iterable(rows[:count] for rows, count in ends))
    last = sorted(chain.from_iterable(rows[len(rows) - count :] for rows, count in ends))
    return _end(group, "first", first), _end(group, "last", last)


def _end(group: Group, key: str, rows: Sequence[int]) -> Group:
    end = group.of(rows, key, "")
    return replace(end, title=_end_title(key, end))


def _end_title(name: str, end: Group) -> str:
    mixed = len(set(_kinds(end))) > 1
    return say(f"{name}_mixed" if mixed else name, count=len(end.swings))


def _kinds(group: Group) -> list[str]:
    """Of each swing, by its delivery; where the lesson does not say, each block is a kind."""
    pairs = zip(group.swings, group.deliveries, strict=True)
    return [delivery or f"block {swing.block}" for swing, delivery in pairs]
