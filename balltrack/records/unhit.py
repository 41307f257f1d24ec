"""A swing without a hit that was followed: a pitch let go, missed or only touched, a miss, or a ball that was lost."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from balltrack.contact import Cue
from balltrack.errors import FlightError, MeasureError, PitchWentOn, TooFewFrames
from balltrack.flight.pitch import PitchNumbers
from balltrack.flight.pitch_past import Fate, in_reach
from balltrack.flight.pitch_seen import Pitch
from balltrack.records.describe import Label, unmeasured
from balltrack.records.refit import Basis
from balltrack.records.swing import Swing
from balltrack.track.search import WENT_ON

TAKEN = "a pitch that the batter let go"
TIPPED = "a tip: the bat touched the ball, which flew on past"
UNHEARD_MISS = "taken for a miss, though without sound it may be a hit whose ball was lost"
# A pitch without a swing is only believed where it is clearly one: seen in so many frames, within a bat's and a
# catcher's reach, no slower than a lob (common practice, no source).
LEAST_FRAMES, WIDEST_M, LOWEST_M, HIGHEST_M, SLOWEST_MPS = 6, 1.2, 0.15, 2.5, 4.0
# A ball that comes so soon after a swing is the same one, back from a net or a wall (common practice, no source).
NEXT_PITCH_S = 3.0


def unhit(label: Label, pitch: Pitch, fate: Fate, cues: Sequence[Cue]) -> Swing | None:
    """The record of such a pitch; None where it does not tell what became of it.

    Parameters
    ----------
    label : Label
        With what is told of the pitch.
    pitch : Pitch
    fate : Fate
        What became of the ball past the bat.
    cues : sequence of Cue
        Of this swing, if it is one.
    """
    swung = [cue for cue in cues if cue.swung]
    if not swung:
        return unmeasured(replace(label, ended="take"), True, TAKEN) if _clearly_pitched(pitch.numbers) else None
    cracked = any(cue.heard and in_reach(pitch, cue.time_s, cue.sd_s) for cue in swung)
    if fate == "turned" or (fate == "on" and cracked):
        return unmeasured(replace(label, ended="tip"), False, TIPPED)
    return unmeasured(replace(label, ended="miss"), True, f"a swing, and {WENT_ON}") if fate == "on" else None


def too_soon(basis: Basis, before: Basis) -> bool:
    """Whether what looks like a pitch that was let go follows too closely on the swing before it to be one."""
    taken = basis.ballless is not None and basis.ballless.ended == "take"
    return taken and basis.seen_s - before.seen_s < NEXT_PITCH_S


def timed(pitch: Pitch, cues: Sequence[Cue]) -> PitchNumbers:
    """What is told of the pitch, with how much too early or late the middle of the swing was, where one was seen."""
    seen = [cue for cue in cues if cue.swung and not cue.heard]
    over = pitch.numbers.plate_s
    if not seen or over is None:
        return replace(pitch.numbers, early_s=None)
    early_s = over[0] - seen[0].time_s
    return replace(pitch.numbers, early_s=(early_s, float(np.hypot(over[1], seen[0].sd_s))))


def _clearly_pitched(pitch: PitchNumbers) -> bool:
    if pitch.plate_x_m is None or pitch.plate_z_m is None or pitch.speed_mps is None:
        return False
    near = abs(pitch.plate_x_m[0]) < WIDEST_M and LOWEST_M < pitch.plate_z_m[0] < HIGHEST_M
    return near and pitch.frames >= LEAST_FRAMES and pitch.speed_mps[0] > SLOWEST_MPS


def without_ball(
    delivery: str | None, cues: Sequence[Cue], label: Label, troubles: Sequence[MeasureError]
) -> Swing | None:
    """A miss, a hit whose ball was not found, or no swing at all."""
    swung, missed = [cue for cue in cues if cue.swung], replace(label, ended="miss")
    if not swung:
        return None
    if delivery != "tee" and any(isinstance(trouble, PitchWentOn) for trouble in troubles):
        return unmeasured(missed, True, f"a swing, and {WENT_ON}")
    if any(cue.heard for cue in swung):
        return unmeasured(label, False, f"contact was heard, but the ball was not found: {troubles[0]}")
    brief = any(cue.brief for cue in swung)  # nothing was heard, so only that tells a swing from a walk
    if all(cue.silent for cue in swung):
        flown = [each for each in troubles if isinstance(each, FlightError)]
        if any(brief or not isinstance(each, TooFewFrames) for each in flown):
            return unmeasured(label, False, f"a ball was followed, but no flight explains it: {troubles[0]}")
        return unmeasured(label, True, "a swing, and no batted ball was seen", (UNHEARD_MISS,)) if brief else None
    return unmeasured(missed, True, "a swing, but no crack was heard and no batted ball was seen") if brief else None
