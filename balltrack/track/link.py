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
from balltrack.track.arcs import (
    SIZE,
    TIME,
    Prior,
    Seen,
    View,
    bend,
    centre_noise_px,
    sight,
    width_noise_log,
)
from balltrack.track.linked import FASTEST_MPS, FEWEST_HITS, SLOWEST_MPS, Linked, distinct
from balltrack.track.pool import Pool, match_arcs, pool_of, seen_by
from balltrack.units import Floats

SEED_S = (0.0, 0.55)  # candidates so long after contact start guesses
SEED_GAP_S = (0.011, 0.14)  # the two of a pair lie so far apart: enough to tell a direction, too short to bend
MOST_PAIRS = 6000
MOST_IN_A_FRAME = 40  # candidates that start guesses, those with the least like them around
SURVIVORS = 64
SEEDS_PER_CANDIDATE = 3
FIRST_STAGE = 1
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
    usable = _rarest(pool, np.flatnonzero(usable))
    first, second = np.meshgrid(usable, usable, indexing="ij")
    gap = pool.time_s[second] - pool.time_s[first]
    keep = (gap > SEED_GAP_S[0]) & (gap < SEED_GAP_S[1])
    # Width may halve between two frames only when the ball is near; colour hardly changes.
    keep &= np.abs(np.log(pool.width_px[first] / pool.width_px[second])) < 0.35 + 6.0 * gap + 1.5 / np.minimum(
        pool.width_px[first], pool.width_px[second]
    )
    keep &= np.abs(pool.colour[first][..., 1:] - pool.colour[second][..., 1:]).max(axis=-1) < 30.0
    first, second = first[keep], second[keep]
    if len(first) > MOST_PAIRS:
        doubt = pool.clutter[first] * pool.clutter[second] * pool.time_s[second]
        best = np.argsort(doubt)[:MOST_PAIRS]
        first, second = first[best], second[best]
    if not len(first):
        return _Seeds(np.zeros((0, SIZE)), np.zeros((0, SIZE, SIZE)), np.zeros(0), np.zeros((0, 2), np.intp))
    start = _starts(pool, second, view, prior)
    seen = Seen(
        np.stack([pool.time_s[first], pool.time_s[second]], axis=1),
        np.stack([pool.centre_px[first], pool.centre_px[second]], axis=1),
        np.stack([pool.width_px[first], pool.width_px[second]], axis=1),
    )
    arcs, covariance = bend(start, seen, view, prior, rounds=6)
    now = sight(arcs, seen.time_s, view)
    miss = np.linalg.norm(seen.centre_px - now.centre_px, axis=-1) / centre_noise_px(seen.width_px)
    off = np.abs(np.log(seen.width_px / now.width_px)) / width_noise_log(seen.width_px)
    speed = np.linalg.norm(arcs[:, 3:TIME], axis=1)
    unlikely = np.sum(((arcs - prior.mean) / prior.sd) ** 2, axis=1)
    good = (miss.max(axis=1) < 3.0) & (off.max(axis=1) < 3.0) & (unlikely < 25.0)
    good &= (speed > SLOWEST_MPS) & (speed < FASTEST_MPS)
    pair = np.stack([first, second], axis=1)
    return _Seeds(arcs[good], covariance[good], seen.time_s[good].mean(axis=1), pair[good])


def _rarest(pool: Pool, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Of each frame the candidates with the least of their like around them."""
    kept = [
        inside[np.argsort(pool.clutter[inside], kind="stable")[:MOST_IN_A_FRAME]]
        for inside in (rows[pool.frame[rows] == k] for k in np.unique(pool.frame[rows]))
    ]
    return np.concatenate(kept) if kept else rows


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


def _starts(pool: Pool, chosen: NDArray[np.intp], view: View, prior: Prior) -> Floats:
    """Start each guess on the line from the usual contact point to where the candidate's width puts it."""
    distance = view.camera.focal_px * view.ball_diameter_m / np.maximum(pool.width_px[chosen], 2.0)
    spots = view.camera.position_field_m + rays_field(pool.centre_px[chosen], view.camera) * distance[:, None]
    since = np.maximum(pool.time_s[chosen] - prior.mean[TIME], 0.01)[:, None]
    velocity = (spots - prior.mean[:3]) / since
    velocity[:, 2] += 0.5 * 9.8 * since[:, 0]
    speed = np.linalg.norm(velocity, axis=1, keepdims=True)
    velocity *= np.clip(speed, SLOWEST_MPS, FASTEST_MPS) / np.maximum(speed, 1e-6)
    contact = np.broadcast_to(prior.mean[:3], spots.shape)
    rest = np.broadcast_to(prior.mean[TIME:], (len(chosen), SIZE - TIME))
    return np.concatenate([contact, velocity, rest], axis=1)


def _strongest(seeds: _Seeds, pool: Pool, times: Floats, view: View, prior: Prior) -> _Seeds:
    """Keep the guesses that gather most around their own pair."""
    inside = _around(seeds, times, max(0.12, 3.5 * _step_s(times, prior)), prior)
    gain = np.concatenate(
        [
            match_arcs(seeds.arcs[part], seeds.covariance[part], pool, times, inside[part], view).gain.sum(axis=1)
            for part in np.array_split(np.arange(len(seeds.arcs)), len(seeds.arcs) // 400 + 1)
        ]
    )
    best = _spread_out(seeds, np.argsort(-gain))
    return _Seeds(seeds.arcs[best], seeds.covariance[best], seeds.middle_s[best], seeds.pair[best])


def _spread_out(seeds: _Seeds, order: NDArray[np.intp]) -> NDArray[np.intp]:
    """The first guesses of an order, but few from any one candidate: a swinging arm must not crowd out the ball."""
    used: dict[int, int] = {}
    kept: list[int] = []
    for k in order.tolist():
        one, other = seeds.pair[k].tolist()
        if max(used.get(one, 0), used.get(other, 0)) < SEEDS_PER_CANDIDATE:
            used[one], used[other] = used.get(one, 0) + 1, used.get(other, 0) + 1
            kept.append(k)
        if len(kept) == SURVIVORS:
            break
    return np.array(kept, dtype=np.intp)
