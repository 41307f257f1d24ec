"""A change as a person reads it, claiming no more than the swings show."""

from math import floor, log10

from balltrack.records.table import ANGLE, DEPTH, DISTANCE, PER_CENT, SPEED, Scale, Units
from balltrack.review.change import Change
from balltrack.review.language import say
from balltrack.review.quantity import Quantity

FEW = 10  # swings on a side; below it the count is said beside the change


def _both(scale: Scale) -> dict[Units, Scale]:
    return {"us": scale, "metric": scale}


_SCALES: dict[Quantity, dict[Units, Scale]] = {
    "exit_speed": SPEED,
    "launch": _both(ANGLE),
    "spray": _both(ANGLE),
    "depth": DEPTH,
    "carry": DISTANCE,
    "launch_spread": _both(ANGLE),
    "spray_spread": _both(ANGLE),
    "misses": _both(PER_CENT),
}


def change_words(change: Change, units: Units) -> str:
    """ "6 mph faster, likely 3 to 9"; "no clear change: likely between 2 mph slower and 5 mph faster"; "too few …"."""
    counts = [len(stat.numbers) for stat in (change.before, change.after)]
    if change.difference is None or change.low is None or change.high is None:
        return say("change_too_few", before=counts[0], after=counts[1], fewest=change.fewest)
    scale = _SCALES[change.quantity][units]
    low, high, difference = (end / scale.si_per_unit for end in (change.low, change.high, change.difference))
    unit = "" if change.quantity == "misses" else scale.unit if scale.unit == "°" else f" {scale.unit}"
    less, more = f"less_{change.quantity}", f"more_{change.quantity}"
    if change.verdict in ("up", "down"):
        words = _clear(sorted((abs(low), abs(high))), abs(difference), unit, more if low > 0 else less)
    else:
        decimals = _decimals(high - low)
        down, up = f"{-low:.{decimals}f}{unit}", f"{high:.{decimals}f}{unit}"
        words = say("change_not_clear", less=say(less, amount=down), more=say(more, amount=up))
    if min(counts) < FEW:
        words = say("change_few", change=words, before=counts[0], after=counts[1])
    return say("change_caution", change=words, caution=change.caution) if change.caution else words


def _clear(ends: list[float], difference: float, unit: str, way: str) -> str:
    near, far = ends
    decimals = max(_decimals(far - near), 1 if near < 0.5 else 0)
    low, high = f"{near:.{decimals}f}", f"{far:.{decimals}f}"
    change = say(way, amount=f"{difference:.{decimals}f}{unit}")
    return say("change_clear" if float(low) > 0 else "change_clear_up_to", change=change, low=low, high=high)


def _decimals(width: float) -> int:
    """0 for an interval of two units and more, else so many that it shows one digit."""
    return 0 if width >= 2 else min(max(-floor(log10(max(width, 1e-9))), 1), 2)
