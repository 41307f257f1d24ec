"""Did it change? What the page says of first against last swings, and of each block against the one before it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.change import Change, compare
from balltrack.review.change_words import change_words
from balltrack.review.groups import Group, first_and_last, groups_of
from balltrack.review.language import listed, say
from balltrack.review.quantity import Quantity, quantity_name

ASKED: tuple[Quantity, ...] = ("exit_speed", "launch", "launch_spread", "misses")
ASKED_OF_BLOCKS: tuple[Quantity, ...] = ("exit_speed", "launch", "misses")


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One sentence, with the numbers of the swings on both sides of it."""

    words: str
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """All that was compared between two groups."""

    title: str
    lines: tuple[ChangeLine, ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """What the page says, and pairs of which nothing can be said."""

    told: tuple[Pair, ...]
    few: tuple[str, ...]  # "Front toss against Off the tee, 3 against 3"


def changes_of(lesson: Lesson, swings: Sequence[Swing], units: Units) -> Changes:
    """First against last swings, then block against block; nothing where there are not two groups."""
    whole, *blocks = groups_of(lesson, swings)
    first, last = first_and_last(whole)
    asked = [(first, last, ASKED)] if first.swings and last.swings else []
    asked += [(*pair, ASKED_OF_BLOCKS) for pair in pairwise(blocks)]
    told, few = [], []
    for before, after, quantities in asked:
        title = say("against", after=after.title, before=before.inside)
        pair = Pair(title, _lines(before, after, quantities, units))
        if pair.lines:
            told.append(pair)
        else:
            few.append(title if before.key == "first" else _with_counts(before, after))  # first and last tell theirs
    return Changes(tuple(told), tuple(few))


def _lines(before: Group, after: Group, asked: Sequence[Quantity], units: Units) -> tuple[ChangeLine, ...]:
    """None where all of it is too few swings to tell."""
    lines = []
    few: list[str] = []
    for quantity in asked:
        change = compare(before, after, quantity)
        if change.verdict == "too few":
            few.append(say(f"inside_{quantity}"))
        else:
            lines.append(ChangeLine(_line(change, units), _numbers(change)))
    if lines and few:
        words = say("change_too_few_for", quantities=listed(few))
        lines.append(ChangeLine(words, (*before.numbers, *after.numbers)))
    return tuple(lines)


def _with_counts(before: Group, after: Group) -> str:
    return say(
        "against_counts",
        after=after.title,
        before=before.inside,
        after_count=len(after.swings),
        before_count=len(before.swings),
    )


def _line(change: Change, units: Units) -> str:
    return say("change_line", quantity=quantity_name(change.quantity), change=change_words(change, units))


def _numbers(change: Change) -> tuple[int, ...]:
    return (*change.before.numbers, *change.after.numbers)
