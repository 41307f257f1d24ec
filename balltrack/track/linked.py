"""Arcs as balls: what the candidates on each prove, and the stretch of them that is one flight."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.track.arcs import TIME, Prior, Seen, View, bend, centre_noise_px
from balltrack.track.pool import Match, Pool, match_arcs
from balltrack.units import Floats

SLOWEST_MPS, FASTEST_MPS = 8.0, 62.0  # a batted ball that leaves the bat's reach; 139 mph is above any on record here
MOST_BALLS = 12
CORE_SHARE = 0.8  # a bounce or a passing leaf at the end of a good flight must not discredit it
LARGEST_RMS = 0.8  # of a ball's nearer candidates, in their standard deviations: what is one ball stays under 0.6
# Where the candidates of an arc are not one flight, a stretch of them may be: a ground ball between the bat's last blur
# and the first bounce, a ball before the net has it. Stretches without the first few, and of so many parts of the rest,
# are tried.
LEADS, PARTS = (0, 1, 2, 3), 0.85 ** np.arange(16)
FEWEST_OF_STRETCH = 4
FEWEST_HITS = 3
REACH_M = 1.9  # bat and arms end here: evidence nearer to contact may be the bat


@dataclass(frozen=True, slots=True, eq=False)
class Linked:
    """The ball's flight as the candidates tell it."""

    arc: Floats  # (9,)
    covariance: Floats  # (9, 9)
    evidence: float  # natural logarithm of the likelihood ratio, ball against chance
    hits: int  # frames with a candidate on the flight
    share: float  # of the frames from contact to the last hit in which the ball was in sight
    hits_beyond_reach: int
    hits_before_contact: int  # the flight, run backwards, also passes through so many: then it was never batted
    rms: float  # of the nearest four in five of its candidates, in their standard deviations
    travel: float  # how far it moves in the picture, in its mean widths
    seen: Seen  # (1, hits) the candidates on it
    likeness: Floats  # (hits,) what the network said of them, as in Candidates
    streak_px: Floats  # (hits,) as in Pool

    @property
    def contact_s(self) -> float:
        """Clip time of contact. [s]"""
        return float(self.arc[TIME])


def distinct(
    arcs: Floats, covariance: Floats, pool: Pool, times: Floats, view: View, prior: Prior
) -> tuple[Linked, ...]:
    """The arcs with the most evidence after contact, each explaining candidates that none before it does.

    With an arc whose candidates are not one flight comes the best stretch of it that is.
    """
    every = _weigh(arcs, covariance, pool, times, view)
    found: list[Linked] = []
    # What one flight explains is taken; an arc that has run on through a bounce must not take the flight before it.
    taken, spoilt = set[int](), set[int]()
    for k in np.argsort(-every.evidence).tolist():
        rows = set(every.rows(k).tolist())
        if not every.possible[k] or len(rows & taken) >= 0.5 * len(rows):
            continue
        if every.rms[k] <= LARGEST_RMS:
            taken |= rows
            found.append(every.linked(k, pool, times))
        elif len(rows & spoilt) < 0.5 * len(rows):
            spoilt |= rows
            found += [every.linked(k, pool, times), *_stretch(arcs[k], every.rows(k), pool, times, view, prior)]
        if len(found) >= MOST_BALLS:
            break
    return tuple(sorted(found, key=lambda ball: -ball.evidence))


@dataclass(frozen=True, slots=True, eq=False)
class _Weighed:
    """Arcs with the candidates on them, and what these prove."""

    arcs: Floats  # (s, 9)
    covariance: Floats
    match: Match
    hit: NDArray[np.bool_]  # (s, m) frames after contact with a candidate
    counted: NDArray[np.bool_]  # (s, m) frames from contact to the last hit
    evidence: Floats  # (s,)
    possible: NDArray[np.bool_]  # (s,)
    rms: Floats  # (s,) as in Linked

    def rows(self, k: int) -> NDArray[np.intp]:
        """The candidates on an arc, in order of time."""
        return np.asarray(self.match.index[k][self.hit[k]])

    def linked(self, k: int, pool: Pool, times: Floats) -> Linked:
        """One of the arcs as a ball."""
        hit, arc, rows, now = self.hit[k], self.arcs[k], self.rows(k), self.match.now
        path, width = pool.centre_px[rows], pool.width_px[rows]
        beyond = np.linalg.norm(now.points_field_m[k, hit] - arc[:3], axis=-1) > REACH_M
        before = (self.match.index[k] >= 0) & (times < arc[TIME] - 0.06) & (times > arc[TIME] - 0.35)
        return Linked(
            arc=arc,
            covariance=self.covariance[k],
            evidence=float(self.evidence[k]),
            hits=len(rows),
            share=float(hit.sum() / max(int((self.counted[k] & (self.match.gain[k] != 0.0)).sum()), 1)),
            hits_beyond_reach=int(beyond.sum()),
            hits_before_contact=int(before.sum()),
            rms=float(self.rms[k]),
            travel=float(np.linalg.norm(np.ptp(path, axis=0)) / np.mean(width)),
            seen=Seen(pool.time_s[rows][None], path[None], width[None]),
            likeness=pool.likeness[rows],
            streak_px=pool.streak_px[rows],
        )


def _weigh(
    arcs: Floats, covariance: Floats, pool: Pool, times: Floats, view: View, until_s: Floats | None = None
) -> _Weighed:
    """Weigh the arcs by what they meet, each only ``until_s`` (s,) if that is given."""
    inside = np.ones((len(arcs), len(times)), dtype=np.bool_)
    if until_s is not None:
        inside = times[None] <= until_s[:, None]
    after = times[None] > arcs[:, TIME : TIME + 1] - 0.005
    match = match_arcs(arcs, covariance, pool, times, inside, view)
    hit = (match.index >= 0) & after
    last = np.where(hit.any(axis=1), hit.shape[1] - 1 - hit[:, ::-1].argmax(axis=1), -1)
    counted = after & (np.arange(len(times))[None] <= last[:, None])
    evidence = np.where(counted, match.gain, 0.0).sum(axis=1)
    speed = np.linalg.norm(arcs[:, 3:TIME], axis=1)
    possible = (speed > SLOWEST_MPS) & (speed < FASTEST_MPS) & (hit.sum(axis=1) >= FEWEST_HITS)
    return _Weighed(arcs, covariance, match, hit, counted, evidence, possible, _rms(match, hit, pool))


def _rms(match: Match, hit: NDArray[np.bool_], pool: Pool) -> Floats:
    """(s,) root mean square of how far the nearer candidates on each arc lie from it, in their standard deviations."""
    apart = pool.centre_px[np.where(hit, match.index, 0)] - match.now.centre_px
    off_sq = np.sum(apart**2, axis=2) / centre_noise_px(match.now.width_px) ** 2
    in_order = np.sort(np.where(hit, off_sq, np.inf), axis=1)
    core = np.maximum(np.ceil(CORE_SHARE * hit.sum(axis=1)), 1)
    in_core = np.arange(hit.shape[1]) < core[:, None]
    return np.asarray(np.sqrt(np.where(in_core, in_order, 0.0).sum(axis=1) / core))


def _stretch(arc: Floats, rows: NDArray[np.intp], pool: Pool, times: Floats, view: View, prior: Prior) -> list[Linked]:
    """The stretch of an arc's candidates with the most evidence that is one flight; or none.

    What the network calls no ball is left out: the bat's last blur, a glove in the ball's way.
    """
    rows = rows[pool.likeness[rows] != 0.0]
    ends = {(lead, lead + round((len(rows) - lead) * part)) for lead in LEADS for part in PARTS.tolist()}
    spans = np.array(sorted((a, b) for a, b in ends if b - a >= FEWEST_OF_STRETCH and b - a < len(rows)))
    if not len(spans):
        return []
    order = np.arange(len(rows))[None]
    none = (order < spans[:, :1]) | (order >= spans[:, 1:])
    seen = Seen(
        np.broadcast_to(pool.time_s[rows], none.shape),
        np.where(none[..., None], np.nan, pool.centre_px[rows]),
        np.where(none, np.nan, pool.width_px[rows]),
    )
    arcs, covariance = bend(np.repeat(arc[None], len(spans), axis=0), seen, view, prior, rounds=8)
    # A short stretch foretells little of what follows: the bounce would seem to lie on it too.
    weighed = _weigh(arcs, covariance, pool, times, view, until_s=pool.time_s[rows[spans[:, 1] - 1]])
    for k in np.argsort(-weighed.evidence, kind="stable").tolist():
        enough = weighed.possible[k] and weighed.hit[k].sum() >= FEWEST_OF_STRETCH
        if enough and weighed.rms[k] <= LARGEST_RMS:
            return [weighed.linked(k, pool, times)]
    return []
