"""Where a flight ended before its track did: a net, a wall or a hand changes a ball's way at once.

What follows is another motion and must not be fitted. A flight that the camera or the air is wrong about leaves its
track little by little; one that was stopped fits well up to a row and badly with the next ones.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from balltrack.errors import FlightError
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import FlightFit, fit_flight
from balltrack.track.ball import BallTrack

STOPPED = "after the ball was stopped, as by a net or a wall"
# Squared misses over degrees of freedom, against stated sds that are generous: of 238 flights of rendered lessons half
# lie under 0.25, 95 in 100 under 1.3.
DOUBTED, GOOD = 1.5, 1.0
AT_ONCE_ROWS, AT_ONCE = 2, 4.0  # within so many rows the misses grow so many times
FEWEST_BEFORE = 5  # rows: fewer make a flight of anything


def until_stopped(
    track: BallTrack, fit: FlightFit, contact: ContactPrior, setting: Setting
) -> tuple[BallTrack, FlightFit]:
    """Leave out the rows after the ball was stopped, if it was, and fit the flight without them.

    Parameters
    ----------
    track : BallTrack
    fit : FlightFit
        Of all its used rows.
    contact, setting : ContactPrior, Setting
        As the fit had them.
    """
    rows = np.flatnonzero(track.used)
    if fit.chi2_per_dof <= DOUBTED or len(rows) <= FEWEST_BEFORE:
        return track, fit

    def of_first(count: int, start: FlightFit) -> FlightFit | None:
        try:
            return fit_flight(_first(track, rows[count:]), contact, setting, start.launch)
        except FlightError:
            return None

    before, few, many = of_first(FEWEST_BEFORE, fit), FEWEST_BEFORE, len(rows)
    if before is None or before.chi2_per_dof > GOOD:
        return track, fit
    while many - few > 1:  # the first rows fit well, all of them badly: halve to the last that does
        middle = (few + many) // 2
        tried = of_first(middle, before)
        if tried is not None and tried.chi2_per_dof <= GOOD:
            before, few = tried, middle
        else:
            many = middle
    beyond = min(few + AT_ONCE_ROWS, len(rows))
    after = fit if beyond == len(rows) else of_first(beyond, before)
    if after is not None and after.chi2_per_dof < max(DOUBTED, AT_ONCE * before.chi2_per_dof):
        return track, fit
    return _first(track, rows[few:]), before


def _first(track: BallTrack, left_out: NDArray[np.intp]) -> BallTrack:
    """The track without these rows."""
    used, reason = track.used.copy(), list(track.reason)
    used[left_out] = False
    for row in left_out.tolist():
        reason[row] = STOPPED
    return replace(track, used=used, reason=tuple(reason))
