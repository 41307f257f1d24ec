"""Whether a ball falls as if its film ran slower than life: slow motion that nothing in the file tells of."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import OUTLIER_SQ, FlightFit, fit_flight
from balltrack.track.ball import BallTrack

TIMES = (2, 4, 8)  # by which phones slow
FEWEST_ROWS_TO_TELL = 8  # of fewer rows a fall is hardly more than a line
# So much better, in squared sds of the noise that the better flight leaves, a slowed flight must fit all balls of a
# clip: 5 sd. A wrong track may be straighter than any fall, and a straight one fits a slowed flight.
SURELY = 25.0
# Only balls whose flight is doubtful at the film's own pace are asked: a speed so unsure, or so large a misfit.
UNSURE_SHARE, MISFIT = 0.06, 2.0
MOST_ASKED = 2  # those seen in most frames: each costs most of a second
LEAST_NOISE = 0.3  # mean squared miss below which noise is not believed to lie, in stated sds


@dataclass(frozen=True, slots=True)
class Slowed:
    """A film that runs ``times`` slower than life, by its balls' fall, and how much better that fits."""

    times: int
    better: float  # squared sds

    def words(self, fps: float) -> str:
        """What to tell a person, of a film that shows ``fps`` frames a second at its own pace."""
        return (
            f"its balls fall as in a film slowed {self.times} times: if it is slow motion, enter "
            f"capture_fps = {self.times * fps:.0f} in lesson.toml and measure again; nothing was corrected"
        )


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """A ball that was followed, and the flight found at the film's own pace."""

    track: BallTrack
    contact: ContactPrior
    fit: FlightFit


def slowed(balls: Sequence[Followed], setting: Setting) -> Slowed | None:
    """Judge the pace of a film by the fall of its balls; None where it may be life's own.

    Gravity gives each pace a curve of its own: a film slowed n times shows a fall of g / n². The balls of one film
    share the pace, so what they say is added up. Doubted only where a flight is doubtful: whatever else made it so,
    such as another ball's track, is not likely to fit a slowed flight so much better.
    """
    told = [ball for ball in balls if ball.fit.rows_used >= FEWEST_ROWS_TO_TELL and _doubtful(ball.fit)]
    told = sorted(told, key=lambda ball: -ball.fit.rows_used)[:MOST_ASKED]
    if not told:
        return None
    gains = {times: sum(_gain(ball, setting, times) for ball in told) for times in TIMES}
    best = max(gains, key=lambda times: gains[times])
    return Slowed(best, gains[best]) if gains[best] > SURELY else None


def _doubtful(fit: FlightFit) -> bool:
    return fit.exit_speed_sd_mps > UNSURE_SHARE * fit.exit_speed_mps or fit.chi2_per_dof > MISFIT


def _gain(ball: Followed, setting: Setting, times: int) -> float:
    """How much better a flight fits so many times faster, in squared sds; -inf where none does."""
    start_s = ball.contact.time_s
    faster = replace(ball.track, time_s=start_s + (ball.track.time_s - start_s) / times)
    launch = ball.fit.launch
    start = replace(launch, velocity_mps=np.asarray(launch.velocity_mps) * times)
    try:
        fit = fit_flight(faster, ball.contact, setting, start)
    except FlightError:
        return -np.inf
    usable = ball.fit.rows_used + int(ball.fit.outlier.sum())
    before, after = _misfit(ball.fit, usable), _misfit(fit, usable)
    noise = max(after / max(2 * usable - 6, 1), LEAST_NOISE)
    return (before - after) / noise


def _misfit(fit: FlightFit, usable: int) -> float:
    """Sum of squared misses of the usable rows, in stated sds; those left out count as far as they may lie off."""
    return fit.chi2_per_dof * max(2.0 * fit.rows_used - 6.0, 1.0) + OUTLIER_SQ * (usable - fit.rows_used)
