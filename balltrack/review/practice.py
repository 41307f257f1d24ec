"""What to practise next, said modestly: the one thing that stands out in the swings, where one does."""

from dataclasses import dataclass

from balltrack.review.language import say
from balltrack.review.resample import LEVEL
from balltrack.review.share_interval import lower_end
from balltrack.review.stat import Numbers, Share, Spread
from balltrack.review.tally import Tally

# A share stands out where nine times in ten it is really above these (lower end of its score interval): judgement, no
# source. The words are common practice among coaches, no source; the coach may well see a better reason.
MANY_MISSES, MANY_GROUND_BALLS, MANY_POP_UPS, MANY_MISTIMED, MANY_TO_ONE_SIDE = 0.15, 0.4, 0.15, 0.3, 0.5
WIDE_LAUNCH_DEG = 20.0  # between the quartiles: as much as from a ground ball to a fly ball
FEWEST_OF_A_HABIT = 5
FEWEST_OF_A_SPREAD = 10


@dataclass(frozen=True, slots=True)
class Takeaway:
    """One sentence to take home, and the swings that it was made from."""

    words: str
    numbers: Numbers


@dataclass(frozen=True, slots=True)
class _Habit:
    name: str  # of what is said of it
    share: Share
    limit: float


def practice(total: Tally) -> Takeaway:
    """The habit that stands out most, with something worth trying; or that none does."""
    swings = len(total.swings)
    if swings < FEWEST_OF_A_HABIT:
        return Takeaway(say("practise_few" if swings else "practise_no_swing", count=swings), total.swings)
    standing = [(_surely(habit.share) / habit.limit, habit) for habit in _habits(total)]
    most, habit = max(standing, key=lambda each: each[0])
    if most >= 1:
        words = say(f"habit_{habit.name}", count=habit.share.count, of=habit.share.of)
        return Takeaway(words, habit.share.numbers)
    if len(total.measured) < FEWEST_OF_A_SPREAD:
        return Takeaway(say("practise_more", count=swings), total.swings)
    return _wide_launch(total.launch_spread) or Takeaway(say("practise_nothing"), total.swings)


def _wide_launch(spread: Spread) -> Takeaway | None:
    if spread.low is None or spread.high is None or len(spread.numbers) < FEWEST_OF_A_SPREAD:
        return None
    if spread.high - spread.low < WIDE_LAUNCH_DEG:
        return None
    return Takeaway(say("practise_launch", low=f"{spread.low:.0f}", high=f"{spread.high:.0f}"), spread.numbers)


def _habits(total: Tally) -> list[_Habit]:
    flights = {share.name: share for share in total.flights}
    sides = {share.name: share for share in total.sides}
    timings = {share.name: share for share in total.timings}
    behind = Share("behind", timings["late"].numbers + timings["jammed"].numbers, timings["late"].of)
    return [
        _Habit("misses", total.miss_share, MANY_MISSES),
        _Habit("ground_ball", flights["ground_ball"], MANY_GROUND_BALLS),
        _Habit("pop_up", flights["pop_up"], MANY_POP_UPS),
        _Habit("late", behind, MANY_MISTIMED),
        _Habit("early", timings["early"], MANY_MISTIMED),
        _Habit("pull", sides["pull"], MANY_TO_ONE_SIDE),
        _Habit("opposite", sides["opposite"], MANY_TO_ONE_SIDE),
    ]


def _surely(share: Share) -> float:
    return lower_end(share, LEVEL) if share.of >= FEWEST_OF_A_HABIT else 0.0
