"""What is said of a moment at the plate from which no ball was followed."""

from dataclasses import replace

from balltrack.contact import Cue
from balltrack.errors import FlightError, TooFewFrames, TrackError
from balltrack.records.describe import Label
from balltrack.records.unhit import UNHEARD_MISS, without_ball

LABEL = Label("01-tee/001#1", "clips/01-tee/001.mp4", "01-tee", "abc", 1.0)
SEEN = Cue(1.0, 0.08, False, 0.0, 5.0, silent=True)
NOTHING = [TrackError("nothing that moves flies as a batted ball would")]


def test_a_short_stir_in_a_silent_clip_is_a_miss_with_a_doubt() -> None:
    swing = without_ball("tee", [SEEN], LABEL, NOTHING)
    assert swing is not None
    assert (swing.outcome, swing.warnings) == ("no_contact", (UNHEARD_MISS,))


def test_a_long_stir_without_a_crack_or_a_ball_is_no_swing_with_or_without_sound() -> None:
    for silent in (True, False):
        assert without_ball("tee", [replace(SEEN, silent=silent, brief=False)], LABEL, NOTHING) is None


def test_with_a_crack_or_a_ball_a_long_stir_may_be_a_hit() -> None:
    heard = Cue(1.0, 0.005, True, 30.0, 5.0, brief=False)
    for cue, trouble in ((heard, NOTHING[0]), (replace(SEEN, brief=False), FlightError("no flight explains it"))):
        swing = without_ball("tee", [cue], LABEL, [trouble])
        assert swing is not None
        assert swing.outcome == "not_measured"


def test_a_ball_followed_in_too_few_frames_counts_with_a_stir_as_short_as_a_swing_only() -> None:
    few = [TooFewFrames("the ball was followed in 0 frames, at least 3 are needed")]
    assert without_ball("tee", [replace(SEEN, brief=False)], LABEL, few) is None
    swing = without_ball("tee", [SEEN], LABEL, few)
    assert swing is not None
    assert swing.outcome == "not_measured"
