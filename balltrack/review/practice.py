"""What to practise next, said modestly: the one thing that stands out in the swings, where one does."""

from dataclasses import dataclass

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
    share: Share
    limit: float
    words: str  # {count} of {of}


def practice(total: Tally) -> Takeaway:
    """The habit that stands out most, with something worth trying; or that none does."""
    if len(total.swings) < FEWEST_OF_A_HABIT:
        return Takeaway(
            f"{_swings(len(total.swings))} cannot say what to practise. Next time film at least ten of each kind.",
            total.swings,
        )
    standing = [(_surely(habit.share) / habit.limit, habit) for habit in _habits(total)]
    most, habit = max(standing, key=lambda each: each[0])
    if most >= 1:
        return Takeaway(habit.words.format(count=habit.share.count, of=habit.share.of), habit.share.numbers)
    if len(total.measured) < FEWEST_OF_A_SPREAD:
        return Takeaway(
            f"{_swings(len(total.swings))} show no one thing to practise. At least ten of each kind next time would "
            "tell more.",
            total.swings,
        )
    return _wide_launch(total.launch_spread) or Takeaway(
        "No one thing to practise stands out in these numbers. The same blocks again next time would make the two "
        "lessons comparable.",
        total.swings,
    )


def _wide_launch(spread: Spread) -> Takeaway | None:
    if spread.low is None or spread.high is None or len(spread.numbers) < FEWEST_OF_A_SPREAD:
        return None
    if spread.high - spread.low < WIDE_LAUNCH_DEG:
        return None
    return Takeaway(
        f"The launch varied much: half of the hits lie between {spread.low:.0f}° and {spread.high:.0f}°. Worth trying "
        "next: ten balls from the same tee at one mark on the net.",
        spread.numbers,
    )


def _habits(total: Tally) -> list[_Habit]:
    flights = {share.name: share for share in total.flights}
    sides = {share.name: share for share in total.sides}
    timings = {share.name: share for share in total.timings}
    behind = Share("behind", timings["late"].numbers + timings["jammed"].numbers, timings["late"].of)
    return [
        _Habit(
            total.miss_share,
            MANY_MISSES,
            "{count} of {of} swings missed the ball. Worth trying next: slower tosses or the tee until bat meets ball, "
            "then back.",
        ),
        _Habit(
            flights["ground_ball"],
            MANY_GROUND_BALLS,
            "{count} of {of} hits went into the ground. Worth trying next: from the tee, a mark on the net above the "
            "pitcher's head, then look whether the launch rises.",
        ),
        _Habit(
            flights["pop_up"],
            MANY_POP_UPS,
            "{count} of {of} hits went straight up. Worth trying next: from the tee, a mark on the net at head height, "
            "then look whether the launch comes down.",
        ),
        _Habit(
            behind,
            MANY_MISTIMED,
            "{count} of {of} pitched or tossed balls were met late. Worth trying next: start a "
            "little sooner, or slower pitches, then look whether contact moves ahead.",
        ),
        _Habit(
            timings["early"],
            MANY_MISTIMED,
            "{count} of {of} pitched or tossed balls were met early. Worth trying next: let the "
            "ball come further, then look whether contact moves back.",
        ),
        _Habit(
            sides["pull"],
            MANY_TO_ONE_SIDE,
            "{count} of {of} hits went to the pull side. If the whole field is the aim, worth trying next: balls over "
            "the outer part of the plate, hit to the opposite field.",
        ),
        _Habit(
            sides["opposite"],
            MANY_TO_ONE_SIDE,
            "{count} of {of} hits went to the opposite field. If the whole field is the aim, worth trying next: balls "
            "over the inner part of the plate, met further ahead.",
        ),
    ]


def _surely(share: Share) -> float:
    return lower_end(share, LEVEL) if share.of >= FEWEST_OF_A_HABIT else 0.0


def _swings(count: int) -> str:
    return {0: "No swings", 1: "One swing"}.get(count, f"{count} swings")
