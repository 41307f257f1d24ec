"""When bats met balls in a long film, or missed them: a surge of motion around the plate, with or without a crack.

A neighbour's crack, a clap, a dropped bat or a word has no such surge with it; a walk through the box takes longer and
moves in another pattern, and a bump of the phone moves all of the picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.onset import Onset
from balltrack.recording.look import FULL, Look
from balltrack.recording.zone import EDGE, surges_at
from balltrack.units import Floats

STEP_S = 1 / 30
SURGE_S = 0.3  # a bat is fast for about so long
# Before a swing the batter stands, and after one that missed again: of all that moves from AROUND_S before to BRIEF_S
# after its middle, or to AROUND_S after, at least so much does within BRIEF_S. A steady walk gives 0.4 and 0.25.
BRIEF_S, AROUND_S = 0.25, 1.0
BRIEF_BEFORE, BRIEF_BOTH = 0.5, 0.45
# And at least so many cells' worth: half a square metre 30 m away, where a lens of 62 degrees puts 1.5 m into a cell.
LEAST_CELLS = 0.2
BESIDE = 2  # that is asked of the zone and so many cells around it: who walks through comes from beside
OUTSIDE = 1.0  # and so many times what moves in as large a part of the rest of the picture: else the phone was bumped
APART_S = 0.9  # two swings by one batter lie further apart
EARLIEST_CRACK_S, LATEST_CRACK_S = 0.2, 0.3  # a swing's crack comes so long before to so long after its surge's middle
# Of the usual swing of the same film, by what moves where. So much less moves when somebody picks up a ball, claps or
# drops the bat, and elsewhere when somebody walks by. A bunt is not told from these.
LEAST_HEARD, LEAST_UNHEARD = 0.5, 0.6
LIKE_HEARD, LIKE_UNHEARD = 0.5, 0.7  # cosine of the pattern in which the zone's cells move with the usual one
PEAK_TO_CONTACT_S = 0.05  # bat and body are fastest so long before contact
ROUNDS = 3  # of telling the usual swing, each by what the one before told
FEWEST_ALIKE = 2  # what moved once only is no swing to know others by
USUAL_OF = 0.1  # the usual swing is told from surges half as strong as the one that so large a share exceeds
_AT_ONCE = 2000  # pairs of pictures: all of a long film at once would be 8 times as large in memory


@dataclass(frozen=True, slots=True)
class Contact:
    """A swing at a ball."""

    time_s: float  # clip time of the recording; of the crack as heard, or as the motion tells
    heard: bool
    swung: float  # its surge over that of the film's usual swing


@dataclass(frozen=True, slots=True, eq=False)
class _Surge:
    time_s: float  # of its middle
    level: float
    pattern: Floats  # (cells,) how much more of each cell moves than around that time
    brief_before: float  # share of what moves before it and during it that moves during it
    brief_both: float  # the same of what moves before, during and after it
    crack: Onset | None

    @property
    def clear(self) -> bool:
        """Whether it comes out of calm: a hit's batter may run, a miss's stands again."""
        return self.brief_before >= BRIEF_BEFORE and (self.crack is not None or self.brief_both >= BRIEF_BOTH)


def find_contacts(seen: Look, weights: Floats) -> tuple[Contact, ...]:
    """List the swings of a film, in order of time.

    None where fewer than two are alike, or, in a film with sound, where not one has a crack.

    Parameters
    ----------
    seen : Look
        The whole film.
    weights : (rows, columns) array
        Where the batter swings; they add up to 1.
    """
    told_by = _told_by(seen, weights)
    if not told_by:
        return ()  # not one crack with a swing: what moves here is something else
    # Again by the pattern itself: of all that moves at the plate, a stride may move more than the bat.
    for _ in range(ROUNDS):
        pattern = _outline(_usual(told_by).reshape(weights.shape))
        told_by = _told_by(seen, pattern) or told_by
    usual = _usual(told_by)
    sizes = [float(surge.pattern @ usual) for surge in told_by if _likeness(surge, usual) >= LIKE_HEARD]
    if len(sizes) < FEWEST_ALIKE:
        return ()
    size = float(np.median(sizes))
    contacts = []
    for surge in _surges(seen, pattern):
        if not surge.clear:
            continue
        swung = float(surge.pattern @ usual) / size
        heard = surge.crack is not None
        if swung >= (LEAST_HEARD if heard else LEAST_UNHEARD) and _likeness(surge, usual) >= (
            LIKE_HEARD if heard else LIKE_UNHEARD
        ):
            time_s = surge.time_s + PEAK_TO_CONTACT_S if surge.crack is None else surge.crack.time_s
            contacts.append(Contact(time_s, heard, swung))
    return tuple(contacts)


def _outline(pattern: Floats) -> Floats:
    """A pattern without the cells of which little moves: they say where somebody once walked by."""
    return np.where(pattern > EDGE * pattern.max(), pattern, 0.0)


def _told_by(seen: Look, weights: Floats) -> list[_Surge]:
    """The surges from which the usual swing is told: with a crack, where there is sound."""
    clear = [surge for surge in _surges(seen, weights) if surge.clear]
    return [surge for surge in clear if surge.crack is not None or not seen.audible]


def _usual(surges: Sequence[_Surge]) -> Floats:
    """The pattern of the usual swing, of length 1: the mean of the strong surges that are like each other."""
    ordered = np.sort([surge.level for surge in surges])[::-1]
    strong = [surge for surge in surges if surge.level >= 0.5 * ordered[round(USUAL_OF * (len(ordered) - 1))]]
    for _ in range(ROUNDS):
        mean = np.mean([surge.pattern for surge in strong], axis=0)
        usual = np.asarray(mean / max(float(np.linalg.norm(mean)), 1e-9), np.float64)
        like = [surge for surge in strong if _likeness(surge, usual) >= LIKE_HEARD]
        strong = like or strong
    return usual


def _likeness(surge: _Surge, usual: Floats) -> float:
    return float(surge.pattern @ usual) / max(float(np.linalg.norm(surge.pattern)), 1e-9)


def _surges(seen: Look, weights: Floats) -> list[_Surge]:
    """Every time at which more moves, by the weights, than in the APART_S around it."""
    if len(seen.time_s) < 2:
        return []
    time_s = np.arange(seen.time_s[0], seen.time_s[-1], STEP_S)
    level = _level(seen, weights, time_s)
    zone = (weights > 0).astype(np.uint8)
    around = cv2.dilate(zone, np.ones((2 * BESIDE + 1, 2 * BESIDE + 1), np.uint8))
    wide = _share(seen, around, time_s)
    outside = _level(seen, 1 - zone, time_s)
    near = round(APART_S / STEP_S)
    surges: list[_Surge] = []
    for k in _highest(level, near):
        if level[k] < max(LEAST_CELLS / zone.sum(), OUTSIDE * outside[k]):
            continue
        middle_s = float(time_s[k])
        pattern = surges_at(seen, [middle_s]).reshape(-1, around.size)
        if len(pattern):
            moved = np.maximum(pattern[0], 0) * around.ravel()
            crack = _crack(seen.onsets, middle_s)
            surges.append(_Surge(middle_s, float(level[k]), moved, *_brief(wide, k), crack))
    return surges


def _level(seen: Look, weights: Floats | NDArray[Any], time_s: Floats) -> Floats:
    """Mean share of the cells that moves, over SURGE_S around each time."""
    width = round(SURGE_S / STEP_S)
    return np.convolve(_share(seen, weights, time_s), np.ones(width) / width, mode="same")


def _share(seen: Look, weights: Floats | NDArray[Any], time_s: Floats) -> Floats:
    """Mean share of the cells that moves at each time."""
    flat, weight = seen.moved.reshape(len(seen.moved), -1), weights.ravel() / (FULL * max(float(weights.sum()), 1e-9))
    share = np.concatenate([flat[k : k + _AT_ONCE] @ weight for k in range(0, len(flat), _AT_ONCE)])
    return np.asarray(np.interp(time_s, seen.time_s, share), np.float64)


def _highest(level: Floats, near: int) -> list[int]:
    """Steps higher than all within ``near``, in order of time; the first of equals."""
    padded = np.pad(level, near, constant_values=-1.0)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * near + 1)
    is_highest = (level > 0) & (windows[:, :near].max(axis=1) < level) & (windows[:, near + 1 :].max(axis=1) <= level)
    return [int(k) for k in np.flatnonzero(is_highest)]


def _brief(share: Floats, k: int) -> tuple[float, float]:
    """Of what moves around a step, the share that moves within BRIEF_S of it: looking back only, and both ways."""
    near, far = round(BRIEF_S / STEP_S), round(AROUND_S / STEP_S)
    during = float(share[max(k - near, 0) : k + near + 1].sum())
    before = float(share[max(k - far, 0) : k + near + 1].sum())
    both = float(share[max(k - far, 0) : k + far + 1].sum())
    return during / max(before, 1e-9), during / max(both, 1e-9)


def _crack(onsets: Sequence[Onset], time_s: float) -> Onset | None:
    """The loudest of the sharp sounds that may belong to a swing."""
    near = [each for each in onsets if -EARLIEST_CRACK_S <= each.time_s - time_s <= LATEST_CRACK_S]
    return max(near, key=lambda onset: onset.strength_db, default=None)
