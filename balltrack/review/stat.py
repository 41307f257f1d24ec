"""One number, one spread, one share of some swings, each with the numbers of the swings behind it."""

from dataclasses import dataclass

Numbers = tuple[int, ...]  # of swings in swings.jsonl, from 1
QUARTILES_IN_SD = 1.349  # quartiles of a normal distribution lie so many sd apart


@dataclass(frozen=True, slots=True)
class Stat:
    """One number of some swings, SI or degrees, with what holds it nine times in ten where that can be had."""

    value: float | None  # None where no swing gives one
    numbers: Numbers
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """Where half of the swings lie: between the quartiles."""

    low: float | None  # None below four swings
    high: float | None
    numbers: Numbers
    error_sd: float | None = None  # of one swing's own reading, in the mean

    @property
    def mostly_error(self) -> bool:
        """Whether the readings' own errors make at least half of the variance: then it says little of the player."""
        if self.low is None or self.high is None or self.error_sd is None:
            return False
        sd = (self.high - self.low) / QUARTILES_IN_SD
        return self.error_sd**2 >= sd**2 / 2


@dataclass(frozen=True, slots=True)
class Share:
    """So many swings of so many."""

    name: str
    numbers: Numbers  # those that are meant
    of: int  # out of so many

    @property
    def count(self) -> int:
        return len(self.numbers)

    @property
    def share(self) -> float | None:
        return self.count / self.of if self.of else None
