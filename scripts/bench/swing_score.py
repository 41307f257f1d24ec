"""What is kept of each swing and each lesson: all that a report needs."""

from dataclasses import dataclass

from balltrack.units import Floats
from bench.detection import Sightings
from bench.limit import SwingLimit


@dataclass(frozen=True, slots=True, eq=False)
class SwingScore:
    """One true swing, and what was said of it."""

    lesson: int
    clip: str
    delivery: str
    true_outcome: str  # hit | miss | foul_tip | checked
    outcome: str  # that of the record; "no record" where there is none
    reason: str
    made_up: tuple[str, ...]  # each record with numbers for which there was no hit, in words
    true: Floats  # (7,) NaN where there was no hit
    error: Floats  # (7,) NaN where not measured
    sd: Floats  # (7,) as stated
    limit: SwingLimit
    sightings: Sightings

    @property
    def hit(self) -> bool:
        """Whether there was something to measure."""
        return self.true_outcome == "hit"

    @property
    def measured(self) -> bool:
        """Whether a hit has numbers."""
        return self.hit and self.outcome == "measured"


@dataclass(frozen=True, slots=True, eq=False)
class LessonScore:
    """One lesson's swings, and what went wrong with the command."""

    number: int
    title: str
    tags: dict[str, str]  # side of the set-up -> what it is here
    difficulties: tuple[str, ...]
    swings: tuple[SwingScore, ...]
    faults: tuple[str, ...]
    render_s: float
    measure_s: float
