"""Each block in a few numbers. Medians: one wild swing does not move them."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from balltrack.records.swing import Swing
from balltrack.records.table import ANGLE, DISTANCE, SPEED, Scale, Units
from balltrack.records.wording import NOTHING


@dataclass(frozen=True, slots=True)
class Summary:
    """One block, or the whole lesson, in the reader's units; words are ready to print."""

    title: str
    swings: int
    measured: int
    misses: int
    not_measured: int
    excluded: int  # left out by a person, and counted nowhere else
    exit_speed_median: str
    exit_speed_best: str
    launch_median: str
    carry_median: str
    sides: tuple[tuple[str, int], ...]  # pull, middle, opposite


def summarize(title: str, swings: Sequence[Swing], units: Units) -> Summary:
    """Sum up the swings that nobody left out; what cannot be had is a dash."""
    excluded = sum(bool(s.excluded) for s in swings)
    swings = [s for s in swings if not s.excluded]
    speeds = [s.exit_speed_mps for s in swings if s.exit_speed_mps is not None]
    return Summary(
        title=title,
        swings=len(swings),
        measured=sum(s.outcome == "measured" for s in swings),
        misses=sum(s.outcome == "no_contact" for s in swings),
        not_measured=sum(s.outcome == "not_measured" for s in swings),
        excluded=excluded,
        exit_speed_median=_words(median(speeds) if speeds else None, SPEED[units]),
        exit_speed_best=_words(max(speeds, default=None), SPEED[units]),
        launch_median=_median([s.launch_deg for s in swings], ANGLE),
        carry_median=_median([s.carry_m for s in swings], DISTANCE[units]),
        sides=tuple((side, sum(s.field_side == side for s in swings)) for side in ("pull", "middle", "opposite")),
    )


def _median(values: Sequence[float | None], scale: Scale) -> str:
    known = [value for value in values if value is not None]
    return _words(median(known) if known else None, scale)


def _words(value: float | None, scale: Scale) -> str:
    if value is None:
        return NOTHING
    shown = f"{value / scale.si_per_unit:.{scale.decimals}f}"
    return shown.removeprefix("-") if float(shown) == 0 else shown
