"""Swings with the numbers that a reader sees everywhere, less those that a person left out."""

from collections.abc import Sequence
from dataclasses import dataclass

from balltrack.records.swing import Swing
from balltrack.review.language import listed, say


@dataclass(frozen=True, slots=True)
class Numbered:
    """A swing that counts, and its number in the lesson, from 1."""

    number: int
    swing: Swing


def numbered(swings: Sequence[Swing], block: str | None = None) -> tuple[Numbered, ...]:
    """The swings that count, of one block or of all; what was left out or let go keeps its number to itself."""
    return tuple(
        Numbered(number, swing)
        for number, swing in enumerate(swings, start=1)
        if swing.counts and block in (None, swing.block)
    )


def numbers_said(numbers: Sequence[int], most: int | None = None) -> str:
    """``3``, ``3 and 5``, ``3, 5 and 8``; of more than ``most`` only how many they are: ``9 swings``."""
    if most is not None and len(numbers) > most:
        return say("numbers_many", count=len(numbers))
    return listed([str(number) for number in numbers])
