"""From loose candidates to the pitched ball: the flight that ends at the plate and that most of them agree on.

An arc stands here for the ball's way before its time: place and velocity at the end, flown backward. Guesses come from
pairs of candidates with the known end, as in `link`; evidence is counted as there. The way of a ball past the bat is
sought alike, forward from where the pitch ended.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.candidates import Candidates
from balltrack.track.arcs import TIME, Prior, Seen, View, bend, centre_noise_px, sight
from balltrack.track.bending import SIZE
from balltrack.track.pool import Pool, match_arcs, pool_of, seen_by
from balltrack.track.seeds import Kind, agree, alike_pairs, rarest, seen_in_pairs, spread_out, starts
from balltrack.units import Floats

NEAR_END_S = 0.03  # bat and hands blur what is nearer to contact
PAIR_GAP_S = (0.011, 0.2)
SEED_S = 0.6  # before the end: further back the ball is small and much else moves
MOST_PAIRS = 800
MOST_IN_A_FRAME = 25  # candidates that start guesses, those with the least like them around
SURVIVORS = 24
SPANS_S = (0.2, 0.6, 2.0)  # evidence is gathered outward from the pair that gave the guess
FEWEST_HITS = 4
LEAST_EVIDENCE = 14.0  # log likelihood ratio; see track/search
LARGEST_RMS = 0.9  # of the nearest four in five of its candidates, in their standard deviations
CORE_SHARE = 0.8
LEAST_TRAVEL = 2.0  # in widths: a limb sways, a pitch crosses the picture or grows
LEAST_SHARE = 0.5  # of the frames from the first to the last hit in which it was in sight
# A pitch comes at no less than a lob's speed and no more than the hardest throw's (common practice, no source).
PITCHED, PAST = Kind(-0.02, 2.5, 50.0, 4.0), Kind(0.02, 2.5, 50.0, 4.0)


BEFORE, AFTER = -1, 1  # which side of its end the ball is sought on


@dataclass(frozen=True, slots=True, eq=False)
class Incoming:
    """The pitched ball as the candidates tell it, before its end or past it."""

    arc: Floats  # (9,) place, velocity and time of that end; lift
    covariance: Floats  # (9, 9)
    evidence: float  # natural logarithm of the likelihood ratio, ball against chance
    seen: Seen  # (1, hits) the candidates on it

    @property
    def end_s(self) -> float:
        """Clip time of the arc's end. [s]"""
        return float(self.arc[TIME])


def link_pitch(frames: Sequence[Candidates], view: View, prior: Prior, side: int = BEFORE) -> Incoming | None:
    """Find the pitched ball among the candidates of the frames before it was hit or passed the plate, or after.

    Parameters
    ----------
    frames : sequence of Candidates
        In order of time.
    view : View
        Whose ``fly`` reaches back over all of the pitch.
    prior : Prior
        Where, when and how a pitch may end.
    side : int
        ``BEFORE`` its end, or ``AFTER`` it.

    Returns
    -------
    Incoming or None
        None where no flight stands out.
    """
    end_s, slack_s = prior.mean[TIME], prior.sd[TIME]
    frames = [frame for frame in frames if side * (frame.time_s - end_s) > -slack_s and len(frame)]
    if len(frames) < FEWEST_HITS:
        return None
    pool, times = pool_of(frames, view), np.array([frame.time_s for frame in frames])
    arcs, covariance, middle_s = _seeds(pool, times, view, prior, side)
    for span in SPANS_S:
        if not len(arcs):
            return None
        inside = np.abs(times[None] - middle_s[:, None]) < max(span, 2.5 * _step_s(times))
        match = match_arcs(arcs, covariance, pool, times, inside & _clear(arcs, times, side), view)
        arcs, covariance = bend(arcs, seen_by(match, pool), view, prior, rounds=2)
    return _best(arcs, covariance, pool, times, view, side)


def _step_s(times: Floats) -> float:
    return float(np.median(np.diff(times)))


def _clear(arcs: Floats, times: Floats, side: int) -> NDArray[np.bool_]:
    """(s, m) whether a frame lies on this side of each arc's end, clear of the bat."""
    return np.asarray(side * (times[None] - arcs[:, TIME : TIME + 1]) > NEAR_END_S)


def _seeds(pool: Pool, times: Floats, view: View, prior: Prior, side: int) -> tuple[Floats, Floats, Floats]:
    """Guessed arcs (s, 9), their covariances, and the time (s,) half-way between each one's pair."""
    first, second = _pairs(pool, prior, side)
    if not len(first):
        return np.zeros((0, SIZE)), np.zeros((0, SIZE, SIZE)), np.zeros(0)
    seen = seen_in_pairs(pool, first, second)
    nearer, kind = (first, PITCHED) if side == BEFORE else (second, PAST)
    arcs, covariance = bend(starts(pool, nearer, view, prior, kind), seen, view, prior, rounds=4)
    good = agree(arcs, seen, view, prior, kind)
    arcs, covariance, middle_s = arcs[good], covariance[good], seen.time_s[good].mean(axis=1)
    if not len(arcs):
        return arcs, covariance, middle_s
    inside = np.abs(times[None] - middle_s[:, None]) < max(0.13, 3.5 * _step_s(times))
    gain = match_arcs(arcs, covariance, pool, times, inside & _clear(arcs, times, side), view).gain.sum(axis=1)
    pair = np.stack([first[good], second[good]], axis=1)
    best = spread_out(pair, np.argsort(-gain, kind="stable"), SURVIVORS)
    return arcs[best], covariance[best], middle_s[best]


def _pairs(pool: Pool, prior: Prior, side: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of the pool that may be one ball twice, the earlier first."""
    since_s = side * (pool.time_s - prior.mean[TIME])
    usable = np.flatnonzero((since_s > NEAR_END_S - prior.sd[TIME]) & (since_s < SEED_S + prior.sd[TIME]))
    rows = rarest(pool, usable, MOST_IN_A_FRAME)
    first, second = alike_pairs(pool, rows, PAIR_GAP_S, PITCHED)
    if len(first) > MOST_PAIRS:
        best = np.argsort(pool.clutter[first] * pool.clutter[second], kind="stable")[:MOST_PAIRS]
        first, second = first[best], second[best]
    return first, second


def _best(arcs: Floats, covariance: Floats, pool: Pool, times: Floats, view: View, side: int) -> Incoming | None:
    """The arc with the most evidence from its end to its furthest candidate, if that is a pitch."""
    clear = _clear(arcs, times, side)
    match = match_arcs(arcs, covariance, pool, times, clear, view)
    hit = match.index >= 0
    away = side * (times[None] - arcs[:, TIME : TIME + 1])
    counted = clear & (away <= np.where(hit, away, -np.inf).max(axis=1, keepdims=True))
    evidence = np.where(counted, match.gain, 0.0).sum(axis=1)
    for k in np.argsort(-evidence, kind="stable").tolist():
        if evidence[k] < LEAST_EVIDENCE:
            return None
        rows = match.index[k][hit[k]]
        share = hit[k].sum() / max(int((counted[k] & (match.gain[k] != 0.0)).sum()), 1)
        if len(rows) >= FEWEST_HITS and share >= LEAST_SHARE and _flies(arcs[k], rows, pool, view):
            seen = Seen(pool.time_s[rows][None], pool.centre_px[rows][None], pool.width_px[rows][None])
            return Incoming(arcs[k], covariance[k], float(evidence[k]), seen)
    return None


def _flies(arc: Floats, rows: NDArray[np.intp], pool: Pool, view: View) -> bool:
    """Whether the candidates keep to the arc, and move as a ball in flight does."""
    now = sight(arc[None], pool.time_s[rows], view)
    off = np.linalg.norm(pool.centre_px[rows] - now.centre_px[0], axis=-1) / centre_noise_px(now.width_px[0])
    core = np.sort(off)[: max(int(np.ceil(CORE_SHARE * len(off))), 1)]
    width = pool.width_px[rows]
    travel = float(np.linalg.norm(np.ptp(pool.centre_px[rows], axis=0)) / np.mean(width))
    return bool(np.sqrt(np.mean(core**2)) < LARGEST_RMS and travel > LEAST_TRAVEL)
