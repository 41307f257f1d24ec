"""Groups of swings made for tests of what is counted."""

from collections.abc import Sequence
from dataclasses import replace

from balltrack.lesson import Delivery
from balltrack.records.swing import Swing
from balltrack.review.groups import Group
from tests.records.swings import HIT


def hit(speed_mps: float, launch_deg: float = 15.0, **changes: object) -> Swing:
    """A hit like HIT with other numbers."""
    return replace(HIT, exit_speed_mps=speed_mps, launch_deg=launch_deg, **changes)  # type: ignore[arg-type]


def group(swings: Sequence[Swing], delivery: Delivery | None = "live", first: int = 1) -> Group:
    """A right-handed batter's swings, numbered from ``first``."""
    numbers = tuple(range(first, first + len(swings)))
    return Group("made", "Made", tuple(swings), numbers, (delivery,) * len(swings), "right")
