"""A change as a person reads it, claiming no more than the swings show."""

from dataclasses import dataclass
from math import floor, log10

from balltrack.records.table import ANGLE, DEPTH, DISTANCE, PER_CENT, SPEED, Scale, Units
from balltrack.review.change import Change
from balltrack.review.quantity import Quantity

FEW = 10  # swings on a side; below it the count is said beside the change


@dataclass(frozen=True, slots=True)
class _Way:
    more: str
    less: str
    scale: dict[Units, Scale]


def _both(scale: Scale) -> dict[Units, Scale]:
    return {"us": scale, "metric": scale}


_WAYS: dict[Quantity, _Way] = {
    "exit_speed": _Way("faster", "slower", SPEED),
    "launch": _Way("higher", "lower", _both(ANGLE)),
    "spray": _Way("further to the right", "further to the left", _both(ANGLE)),
    "depth": _Way("further ahead", "deeper", DEPTH),
    "carry": _Way("further", "shorter", DISTANCE),
    "launch_spread": _Way("more spread out", "closer together", _both(ANGLE)),
    "spray_spread": _Way("more spread out", "closer together", _both(ANGLE)),
    "misses": _Way("more in 100 swings", "fewer in 100 swings", _both(PER_CENT)),
}


def change_words(change: Change, units: Units) -> str:
    """ "6 mph faster, likely 3 to 9"; "no clear change: likely between 2 mph slower and 5 mph faster"; "too few …"."""
    counts = [len(stat.numbers) for stat in (change.before, change.after)]
    if change.difference is None or change.low is None or change.high is None:
        return f"too few swings to tell ({counts[0]} against {counts[1]}; it takes {change.fewest} on each side)"
    way = _WAYS[change.quantity]
    scale = way.scale[units]
    low, high, difference = (end / scale.si_per_unit for end in (change.low, change.high, change.difference))
    unit = "" if change.quantity == "misses" else scale.unit if scale.unit == "°" else f" {scale.unit}"
    if change.verdict in ("up", "down"):
        words = _clear(sorted((abs(low), abs(high))), abs(difference), unit, way.more if low > 0 else way.less)
    else:
        decimals = _decimals(high - low)
        down, up = f"{-low:.{decimals}f}{unit}", f"{high:.{decimals}f}{unit}"
        words = f"no clear change: likely between {down} {way.less} and {up} {way.more}"
    if min(counts) < FEW:
        words += f"; only {counts[0]} swings against {counts[1]}"
    return f"{words}; {change.caution}" if change.caution else words


def _clear(ends: list[float], difference: float, unit: str, way: str) -> str:
    near, far = ends
    decimals = max(_decimals(far - near), 1 if near < 0.5 else 0)
    shown = f"{near:.{decimals}f}"
    reach = f"{shown} to {far:.{decimals}f}" if float(shown) > 0 else f"up to {far:.{decimals}f}"
    return f"{difference:.{decimals}f}{unit} {way}, likely {reach}"


def _decimals(width: float) -> int:
    """0 for an interval of two units and more, else so many that it shows one digit."""
    return 0 if width >= 2 else min(max(-floor(log10(max(width, 1e-9))), 1), 2)
