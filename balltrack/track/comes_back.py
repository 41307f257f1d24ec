"""The ball that comes back: from a net, wall or backstop it may pass the plate again, with a thud, and is no swing."""

from collections.abc import Sequence
from dataclasses import dataclass

from balltrack.contact import Cue

RETURN_S = 6.0  # a ball that has not come back by then lies still (judgement, no source)
STILL = 0.25  # of the stir of the swing that hit it: nobody swings with so little


@dataclass(frozen=True, slots=True)
class Sent:
    """A ball that was hit earlier in the clip."""

    contact_s: float
    speed_mps: float
    stirred: float  # share of the zone around the plate that the swing stirred


def came_back(cues: Sequence[Cue], speed_mps: float, sent: Sequence[Sent]) -> bool:
    """Whether what flies by the plate is a ball that was hit before.

    Nobody swings, and it is slower than when it was hit: a net or a wall gives no speed.

    Parameters
    ----------
    cues : sequence of Cue
        The moments at which it may have been hit.
    speed_mps : float
        Of what was followed from there. [m/s]
    sent : sequence of Sent
        What was hit before in the same clip.
    """
    if any(cue.swung for cue in cues):
        return False
    stirred, now_s = max(cue.stirred for cue in cues), min(cue.time_s for cue in cues)
    return any(
        0 < now_s - each.contact_s < RETURN_S and stirred < STILL * each.stirred and speed_mps < each.speed_mps
        for each in sent
    )
