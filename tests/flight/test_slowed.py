"""The pace of a film by the fall of its balls: simulated flights, filmed by phones whose file tells nothing."""

from dataclasses import replace

import numpy as np

from balltrack.flight.evidence import Setting
from balltrack.flight.fit import fit_flight
from balltrack.flight.slowed import Followed, slowed
from tests.flight.simulated import SET_UPS, Filming, swing

SEED = 101


def followed(fps: float, times: int) -> tuple[Followed, Setting]:
    """A ball filmed ``fps`` times a second and stored ``times`` slower, with the flight found at the file's pace."""
    made = swing(np.random.default_rng(SEED), Filming(SET_UPS["behind"], fps=fps, longest_s=0.4))
    start_s = made.contact.time_s
    track = replace(made.track, time_s=start_s + (made.track.time_s - start_s) * times)
    return Followed(track, made.contact, fit_flight(track, made.contact, made.setting)), made.setting


def test_a_ball_that_falls_too_slowly_tells_by_how_much_and_what_to_do() -> None:
    ball, setting = followed(fps=240, times=4)
    found = slowed([ball], setting)
    assert found is not None
    assert found.times == 4  # as it was stored
    words = found.words(fps=60)
    assert "slowed 4 times" in words
    assert "capture_fps = 240" in words
    assert "nothing was corrected" in words


def test_a_ball_at_lifes_own_pace_raises_no_doubt() -> None:
    ball, setting = followed(fps=60, times=1)
    assert slowed([ball], setting) is None
    assert slowed([], setting) is None
