"""From loose candidates to one ball: the flight that most of them agree on.

Pairs of candidates, with the place and time of contact, give guessed flights; each guess gathers the candidates that
lie on it, outward in time; the guess with the most evidence wins. Evidence is a likelihood ratio against chance
candidates, so a swaying tree, dense with candidates, proves little and a clear sky proves much.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import rays_field
from balltrack.detect.candidates import Candidates
from balltrack.track.arcs import TIME, Prior, View, bend
from balltrack.track.bending import SIZE
from balltrack.track.linked import FASTEST_MPS, FEWEST_HITS, SLOWEST_MPS, Linked, distinct
from balltrack.track.pool import Pool, match_arcs, pool_of, seen_by
from balltrack.track.seeds import Kind, agree, alike_pairs, rarest, seen_in_pairs, spread_out, starts
from balltrack.units import Floats

SEED_S = (0.0, 0.55)  # candidates so long after contact start guesses
SEED_GAP_S = (0.011, 0.14)  # the two of a pair lie so far apart: enough to tell a direction, too short to bend
MOST_PAIRS = 6000
MOST_IN_A_FRAME = 40  # candidates that start guesses, those with the least like them around
SURVIVORS = 64
FIRST_STAGE = 1
BATTED = Kind(0.01, SLOWEST_MPS, FASTEST_MPS, 6.0)
SPANS_S = (0.075, 0.15, 0.3, 0.6, 1.2)  # evidence is gathered outward from the pair that gave the guess


@dataclass(frozen=True, slots=True, eq=False)
class _Seeds:
    """Guessed flights, each from a pair of candidates."""

    arcs: Floats  # (s, 9)
    covariance: Floats  # (s, 9, 9)
    middle_s: Floats  # (s,) time half-way between the pair
    pair: NDArray[np.intp]  # (s, 2) its rows of the pool


def link(frames: Sequence[Candidates], view: View, prior: Prior) -> tuple[Linked, ...]:
    """Find what may be the batted ball among the candidates of a window around one contact.

    Parameters
    ----------
    frames : sequence of Candidates
        In order of time; those before contact serve to recognise a pitch that was not hit.
    view : View
    prior : Prior
        Where and when contact may have been, and how a batted ball may fly.

    Returns
    -------
    tuple of Linked
        The likeliest first; empty where fewer than three candidates agree on any flight.
    """
    if len(frames) < FEWEST_HITS:
        return ()
    pool = pool_of(frames, view)
    times = np.array([frame.time_s for frame in frames])
    step = _step_s(times, prior)
    seeds = _seeds(pool, view, prior)
    if not len(seeds.arcs):
        return ()
    seeds = _strongest(seeds, pool, times, view, prior)
    arcs, covariance = seeds.arcs, seeds.covariance
    stages: list[tuple[Floats, Floats]] = []
    for span in SPANS_S:
        inside = _around(seeds, times, max(span, 2.5 * step), prior)
        match = match_arcs(arcs, covariance, pool, times, inside, view)
        arcs, covariance = bend(arcs, seen_by(match, pool), view, prior, rounds=4)
        stages.append((arcs, covariance))
    # A guess that has gathered a bounce is spoilt; as it was before, it may be the ball.
    every = [np.concatenate(parts) for parts in zip(*stages[FIRST_STAGE:], strict=True)]
    return distinct(every[0], every[1], pool, times, view, prior)


def _step_s(times: Floats, prior: Prior) -> float:
    """Usual time between the frames soon after contact; before it and later fewer are searched."""
    since = times - prior.mean[TIME]
    near = times[(since >= SEED_S[0]) & (since <= SEED_S[1])]
    return float(np.median(np.diff(near if len(near) > 1 else times)))


def _around(seeds: "_Seeds", times: Floats, span_s: float, prior: Prior) -> NDArray[np.bool_]:
    """(s, m) whether a frame lies within the span of each seed's pair, and after contact."""
    near = np.abs(times[None] - seeds.middle_s[:, None]) < span_s
    return np.asarray(near & (times > prior.mean[TIME] - 2 * prior.sd[TIME] - 0.01)[None])


def _seeds(pool: Pool, view: View, prior: Prior) -> _Seeds:
    """Guess a flight from every plausible pair of candidates."""
    since = pool.time_s - prior.mean[TIME]
    slack = 2 * prior.sd[TIME]
    usable = (since > SEED_S[0] - slack) & (since < SEED_S[1])
    usable &= plausible(pool.time_s, pool.centre_px, pool.width_px, view, prior)
    usable = rarest(pool, np.flatnonzero(usable), MOST_IN_A_FRAME)
    first, second = alike_pairs(pool, usable, SEED_GAP_S, BATTED)
    if len(first) > MOST_PAIRS:
        doubt = pool.clutter[first] * pool.clutter[second] * pool.time_s[second]
        best = np.argsort(doubt)[:MOST_PAIRS]
        first, second = first[best], second[best]
    if not len(first):
        return _Seeds(np.zeros((0, SIZE)), np.zeros((0, SIZE, SIZE)), np.zeros(0), np.zeros((0, 2), np.intp))
    seen = seen_in_pairs(pool, first, second)
    arcs, covariance = bend(starts(pool, second, view, prior, BATTED), seen, view, prior, rounds=6)
    good = agree(arcs, seen, view, prior, BATTED)
    pair = np.stack([first, second], axis=1)
    return _Seeds(arcs[good], covariance[good], seen.time_s[good].mean(axis=1), pair[good])


def plausible(time_s: Floats, centre_px: Floats, width_px: Floats, view: View, prior: Prior) -> NDArray[np.bool_]:
    """Whether widths (n,) and places (n, 2) admit any batted ball at their times (n,)."""
    reach = np.array([0.6, 0.75, 0.9, 1.1, 1.35, 1.7])
    distance = view.camera.focal_px * view.ball_diameter_m / np.maximum(width_px, 1.5)
    rays = rays_field(centre_px, view.camera)
    spots = view.camera.position_field_m + rays[:, None] * (distance[:, None] * reach)[..., None]
    since = np.maximum(time_s - prior.mean[TIME], 0.004)[:, None]
    travelled = np.linalg.norm(spots - prior.mean[:3], axis=-1)
    slack = 2.0 * float(np.linalg.norm(prior.sd[:3])) + FASTEST_MPS * prior.sd[TIME]
    possible = (travelled < FASTEST_MPS * since + slack) & (travelled > SLOWEST_MPS * since - slack)
    return np.asarray((possible & (spots[..., 2] > -0.4)).any(axis=1))


def _strongest(seeds: _Seeds, pool: Pool, times: Floats, view: View, prior: Prior) -> _Seeds:
    """Keep the guesses that gather most around their own pair."""
    inside = _around(seeds, times, max(0.12, 3.5 * _step_s(times, prior)), prior)
    gain = np.concatenate(
        [
            match_arcs(seeds.arcs[part], seeds.covariance[part], pool, times, inside[part], view).gain.sum(axis=1)
            for part in np.array_split(np.arange(len(seeds.arcs)), len(seeds.arcs) // 400 + 1)
        ]
    )
    best = spread_out(seeds.pair, np.argsort(-gain), SURVIVORS)
    return _Seeds(seeds.arcs[best], seeds.covariance[best], seeds.middle_s[best], seeds.pair[best])
