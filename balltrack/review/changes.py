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
from balltrack.review.quantity import QUANTITY_NAMES, Quantity

ASKED: tuple[Quantity, ...] = ("exit_speed", "launch", "launch_spread", "misses")
ASKED_OF_BLOCKS: tuple[Quantity, ...] = ("exit_speed", "launch", "misses")


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One sentence, with the numbers of the swings on both sides of it."""

    words: str
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """All that was compared between two groups."""

    title: str
    lines: tuple[ChangeLine, ...]


def changes_of(lesson: Lesson, swings: Sequence[Swing], units: Units) -> tuple[Changes, ...]:
    """First against last swings, then block against block; nothing where there are not two groups."""
    whole, *blocks = groups_of(lesson, swings)
    first, last = first_and_last(whole)
    found = [_changes(first, last, ASKED, units)] if first.swings and last.swings else []
    found += [_changes(*pair, ASKED_OF_BLOCKS, units) for pair in pairwise(blocks)]
    return tuple(found)


def _changes(before: Group, after: Group, asked: Sequence[Quantity], units: Units) -> Changes:
    lines = []
    few: list[str] = []
    for quantity in asked:
        change = compare(before, after, quantity)
        if change.verdict == "too few":
            few.append(QUANTITY_NAMES[quantity].lower())
        else:
            lines.append(ChangeLine(f"{QUANTITY_NAMES[quantity]}: {change_words(change, units)}.", _numbers(change)))
    if few:
        words = f"Too few swings to tell for {_listed(few)}: {len(before.swings)} against {len(after.swings)}."
        lines.append(ChangeLine(words, (*before.numbers, *after.numbers)))
    return Changes(f"{after.title} against {_inside(before.title)}", tuple(lines))


def _numbers(change: Change) -> tuple[int, ...]:
    return (*change.before.numbers, *change.after.numbers)


def _inside(title: str) -> str:
    """As it stands within a sentence: only what this program itself called the group loses its capital."""
    return title[0].lower() + title[1:] if title.startswith("First ") and title.endswith(" swings") else title


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
