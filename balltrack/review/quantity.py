"""What of swings is compared: which number of a swing, how sure it is, and what of many such numbers is told."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from balltrack.records.swing import Swing
from balltrack.review.language import say
from balltrack.units import Floats

Quantity = Literal["exit_speed", "launch", "spray", "depth", "carry", "launch_spread", "spray_spread", "misses"]
Statistic = Callable[..., Any]  # of numpy's kind: (values, axis=…)
FEWEST = 5  # of a median on each side; below it an interval of nine in ten is wider than any change worth a word
FEWEST_OF_SPREAD = 10  # of a spread; in simulation its interval of 90 in 100 held 85 to 92 times (10 to 30 swings)


def spread(values: Any, axis: int = -1) -> Any:
    """Standard deviation of a sample (n - 1)."""
    return np.std(values, axis=axis, ddof=1)


@dataclass(frozen=True, slots=True)
class Kind:
    """How one quantity is had from swings."""

    value: Callable[[Swing], float | None]
    sd: Callable[[Swing], float | None]
    statistic: Statistic = np.median
    fewest: int = FEWEST


def _depth_sd_m(swing: Swing) -> float | None:
    return None if swing.contact_sd_m is None else swing.contact_sd_m[1]


KINDS: dict[Quantity, Kind] = {  # all but misses, which are counted
    "exit_speed": Kind(lambda s: s.exit_speed_mps, lambda s: s.exit_speed_sd_mps),
    "launch": Kind(lambda s: s.launch_deg, lambda s: s.launch_sd_deg),
    "spray": Kind(lambda s: s.spray_deg, lambda s: s.spray_sd_deg),
    "depth": Kind(lambda s: s.contact_depth_m, _depth_sd_m),
    "carry": Kind(lambda s: s.carry_m, lambda s: s.carry_sd_m),
    "launch_spread": Kind(lambda s: s.launch_deg, lambda s: s.launch_sd_deg, spread, FEWEST_OF_SPREAD),
    "spray_spread": Kind(lambda s: s.spray_deg, lambda s: s.spray_sd_deg, spread, FEWEST_OF_SPREAD),
}


def quantity_name(quantity: Quantity) -> str:
    """As it begins a sentence."""
    return say(f"quantity_{quantity}")


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One quantity of some swings."""

    values: Floats  # (n,)
    sds: Floats  # (n,) one standard deviation of each value's own error
    numbers: tuple[int, ...]  # (n,) of the swings


def sample_of(swings: Sequence[Swing], numbers: Sequence[int], kind: Kind) -> Sample:
    """The swings whose value and whose uncertainty are known."""
    rows = [
        (value, sd, number)
        for swing, number in zip(swings, numbers, strict=True)
        if (value := kind.value(swing)) is not None and (sd := kind.sd(swing)) is not None
    ]
    return Sample(
        np.array([value for value, _, _ in rows], dtype=np.float64),
        np.array([sd for _, sd, _ in rows], dtype=np.float64),
        tuple(number for _, _, number in rows),
    )
