"""A number on the page that can be followed back to the swings that it is made from."""

from dataclasses import dataclass
from typing import Literal

from balltrack.records.table import Scale
from balltrack.records.wording import NOTHING
from balltrack.review.stat import Share, Spread, Stat

How = Literal["count", "median", "best", "low quarter", "high quarter", "sum", "value"]


@dataclass(frozen=True, slots=True)
class Shown:
    """What is printed, and where it comes from."""

    words: str
    quantity: str  # a field of the swing record; of a count, what is counted
    how: How
    numbers: tuple[int, ...]  # of the swings, from 1, in the order of swings.jsonl

    @property
    def swings(self) -> str:
        """The numbers as they stand in the page."""
        return " ".join(map(str, self.numbers))


def counted(what: str, numbers: tuple[int, ...]) -> Shown:
    """How many swings there are of some kind."""
    return Shown(str(len(numbers)), what, "count", numbers)


def of_share(share: Share) -> Shown:
    return counted(share.name, share.numbers)


def of_stat(stat: Stat, field: str, how: How, scale: Scale) -> Shown:
    """A number in the reader's unit; a dash where no swing gives one."""
    return Shown(NOTHING if stat.value is None else in_unit(stat.value, scale), field, how, stat.numbers)


def of_spread(spread: Spread, field: str, scale: Scale) -> tuple[Shown, Shown] | None:
    """From where to where half of the swings lie; None where there are too few."""
    if spread.low is None or spread.high is None:
        return None
    low, high = in_unit(spread.low, scale), in_unit(spread.high, scale)
    return Shown(low, field, "low quarter", spread.numbers), Shown(high, field, "high quarter", spread.numbers)


def in_unit(value: float, scale: Scale) -> str:
    """Rounded as the table rounds, and never minus zero."""
    shown = f"{value / scale.si_per_unit:.{scale.decimals}f}"
    return shown.removeprefix("-") if float(shown) == 0 else shown


def expected_count(stat: Stat) -> Shown:
    """A sum of chances, to a tenth."""
    words = NOTHING if stat.value is None else f"{stat.value:.1f}"
    return Shown(words, "fence_clear_probability", "sum", stat.numbers)
