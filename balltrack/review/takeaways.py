"""Three sentences to take home: how it went, what changed or stood out, what to practise next."""

from collections.abc import Sequence
from dataclasses import replace

from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED, Units
from balltrack.review.bands import Bands
from balltrack.review.change import Change, compare
from balltrack.review.change_words import change_words
from balltrack.review.groups import Group, first_and_last, groups_of
from balltrack.review.language import say
from balltrack.review.own_best import own_best
from balltrack.review.practice import Takeaway, practice
from balltrack.review.quantity import FEWEST, Quantity, quantity_name
from balltrack.review.resample import LEVEL
from balltrack.review.tally import Tally, tally

ASKED: tuple[Quantity, ...] = ("exit_speed", "launch", "misses", "launch_spread")
ENOUGH = 10  # hits: among fewer, some are always near the player's own fastest
WORTH_A_WORD = 1.0  # balls over the fence to be expected


def takeaways(
    lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands | None = None
) -> tuple[Takeaway, ...]:
    """Three sentences, each with the numbers of the swings that it was made from.

    A change is taken home only where it would stand beside all others that were looked at: its permutation chance
    times their number is at most one in ten (Bonferroni), and both groups were delivered alike.
    """
    bands = bands or Bands()
    groups = groups_of(lesson, swings)
    total = tally(groups[0], bands, own_best(groups[0], bands))
    return _how_it_went(total, units), _what_stood_out(groups, total, units), practice(total)


def _how_it_went(total: Tally, units: Units) -> Takeaway:
    median, best = total.exit_speed, total.exit_speed_best
    if median.value is None or best.value is None:
        return Takeaway(say("went_none"), total.swings)
    unit = SPEED[units].unit
    fastest = f"{_speed(best.value, units)} {unit}"
    hits = len(median.numbers)
    if hits < FEWEST:
        return Takeaway(say("went_few", count=hits, fastest=fastest), total.measured)
    told = {"count": hits, "speed": f"{_speed(median.value, units)} {unit}", "fastest": fastest}
    if median.low is None or median.high is None:
        return Takeaway(say("went", **told), total.measured)
    low, high = _speed(median.low, units), _speed(median.high, units)
    return Takeaway(say("went_likely", **told, low=low, high=high), total.measured)


def _what_stood_out(groups: Sequence[Group], total: Tally, units: Units) -> Takeaway:
    pairs = _pairs(groups)
    asked = [(*pair, compare(*pair, quantity)) for pair in pairs for quantity in ASKED]
    clear = [each for each in asked if _stands(each[2], sum(change.chance is not None for _, _, change in asked))]
    if clear:
        before, after, change = min(clear, key=lambda each: each[2].chance or 0.0)
        return _change(before, after, change, units)
    if total.well_hit is not None and total.well_hit.count and total.well_hit.of >= ENOUGH:
        hit = total.well_hit
        return Takeaway(say("stood_out_well_hit", count=hit.count, of=hit.of), hit.numbers)
    if total.over_fence is not None and (total.over_fence.value or 0.0) >= WORTH_A_WORD:
        numbers = total.over_fence.numbers
        return Takeaway(say("stood_out_over", over=f"{total.over_fence.value:.0f}", count=len(numbers)), numbers)
    before, after, change = asked[0]
    if not before.swings or not after.swings:
        return Takeaway(say("nothing_to_compare"), total.swings)
    return _change(before, after, change, units)


def _pairs(groups: Sequence[Group]) -> list[tuple[Group, Group]]:
    """The first swings and the last, and each block with the next that was delivered alike."""
    whole, *blocks = groups
    pairs = [first_and_last(whole)]
    for row, block in enumerate(blocks):
        alike = [later for later in blocks[row + 1 :] if set(later.deliveries) == set(block.deliveries) != {None}]
        pairs.extend((block, later) for later in alike[:1])
    return pairs


def _stands(change: Change, looked_at: int) -> bool:
    clear = change.verdict in ("up", "down") and not change.caution
    return clear and change.chance is not None and change.chance * looked_at <= 1 - LEVEL


def _change(before: Group, after: Group, change: Change, units: Units) -> Takeaway:
    words = change_words(replace(change, caution=""), units)
    name = quantity_name(change.quantity)
    said = say("stood_out_change", quantity=name, after=after.inside, before=before.inside, change=words)
    return Takeaway(said, change.before.numbers + change.after.numbers)


def _speed(speed_mps: float, units: Units) -> str:
    return f"{speed_mps / SPEED[units].si_per_unit:.0f}"
