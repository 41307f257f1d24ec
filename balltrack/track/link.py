"""From loose candidates to one ball: the flight that most of them agree on.

Pairs of candidates, with the place and time of contact, give guessed flights; each guess gathers the candidates that
lie on it, outward in time; the guess with the most evidence wins. Evidence is a likelihood ratio against chance
candidates, so a swaying tree, dense with candidates, proves little and a clear sky proves much.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import rays_field
from balltrack.detect.candidates import Candidates
from balltrack.track.arcs import (
    SIZE,
    TIME,
    Prior,
    Seen,
    Sighting,
    View,
    bend,
    centre_noise_px,
    sight,
    spread_px,
    width_noise_log,
)
from balltrack.units import Floats

SLOWEST_MPS, FASTEST_MPS = 8.0, 62.0  # a batted ball that leaves the bat's reach; 139 mph is above any on record here
SEED_S = (0.0, 0.55)  # candidates so long after contact start guesses
SEED_GAP_S = (0.011, 0.14)  # the two of a pair lie so far apart: enough to tell a direction, too short to bend
MOST_PAIRS = 6000
MOST_IN_A_FRAME = 40  # candidates that start guesses, those with the least like them around
ALIKE_LOG = 0.7
SURVIVORS = 64
SEEDS_PER_CANDIDATE = 3
FIRST_STAGE = 1
MOST_BALLS = 8
CORE_SHARE = 0.8  # a bounce or a passing leaf at the end of a good flight must not discredit it
LARGEST_RMS = 0.8  # of a ball's nearer candidates, in their standard deviations: what is one ball stays under 0.6
# Where the candidates of an arc are not one flight, a stretch of them may be: a ground ball between the bat's last blur
# and the first bounce, a ball before the net has it. Stretches without the first few, and of so many parts of the rest,
# are tried.
LEADS, PARTS = (0, 1, 2, 3), 0.85 ** np.arange(16)
FEWEST_OF_STRETCH = 4
FEWEST_HITS = 3
GATE = 3.5  # standard deviations
DETECTED = 0.75  # chance that a ball in plain sight becomes a candidate
VAGUE_PX2 = 1e8
UNSURE_PX = 60.0  # a guess that is vaguer than this at some time gathers nothing there
REACH_M = 1.9  # bat and arms end here: evidence nearer to contact may be the bat
SPANS_S = (0.075, 0.15, 0.3, 0.6, 1.2, 2.4)  # evidence is gathered outward from the pair that gave the guess


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

    @property
    def contact_s(self) -> float:
        """Clip time of contact. [s]"""
        return float(self.arc[TIME])


@dataclass(frozen=True, slots=True, eq=False)
class _Pool:
    """All candidates of the window, one row each."""

    frame: NDArray[np.intp]  # (n,)
    time_s: Floats  # (n,) of the candidate's row
    centre_px: Floats  # (n, 2)
    width_px: Floats
    colour: Floats
    clutter: Floats  # (n,) candidates per square pixel near it, in its frame


@dataclass(frozen=True, slots=True, eq=False)
class _Seeds:
    """Guessed flights, each from a pair of candidates."""

    arcs: Floats  # (s, 9)
    covariance: Floats  # (s, 9, 9)
    middle_s: Floats  # (s,) time half-way between the pair
    pair: NDArray[np.intp]  # (s, 2) its rows of the pool


@dataclass(frozen=True, slots=True, eq=False)
class _Match:
    """For guesses s and frames m, the candidate on each guess."""

    index: NDArray[np.intp]  # (s, m) row of the pool; -1 where none
    gain: Floats  # (s, m) log likelihood ratio gained or lost in the frame


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
    pool = _pool(frames, view)
    times = np.array([frame.time_s for frame in frames])
    step = float(np.median(np.diff(times)))
    seeds = _seeds(pool, view, prior)
    if not len(seeds.arcs):
        return ()
    seeds = _strongest(seeds, pool, times, view, prior)
    arcs, covariance = seeds.arcs, seeds.covariance
    stages: list[tuple[Floats, Floats]] = []
    for span in SPANS_S:
        inside = _around(seeds, times, max(span, 2.5 * step), prior)
        match = _match(arcs, covariance, pool, times, inside, view)
        arcs, covariance = bend(arcs, _seen(match, pool), view, prior, rounds=4)
        stages.append((arcs, covariance))
    # A guess that has gathered a bounce is spoilt; as it was before, it may be the ball.
    every = [np.concatenate(parts) for parts in zip(*stages[FIRST_STAGE:], strict=True)]
    return _distinct(every[0], every[1], pool, times, view, prior)


def _around(seeds: "_Seeds", times: Floats, span_s: float, prior: Prior) -> NDArray[np.bool_]:
    """(s, m) whether a frame lies within the span of each seed's pair, and after contact."""
    near = np.abs(times[None] - seeds.middle_s[:, None]) < span_s
    return np.asarray(near & (times > prior.mean[TIME] - 2 * prior.sd[TIME] - 0.01)[None])


def _pool(frames: Sequence[Candidates], view: View) -> _Pool:
    height = view.camera.size_px[1]
    centre = np.concatenate([frame.centre_px for frame in frames])
    index = np.concatenate([np.full(len(frame), k, dtype=np.intp) for k, frame in enumerate(frames)])
    stamp = np.array([frame.time_s for frame in frames])
    return _Pool(
        frame=index,
        time_s=stamp[index] + view.camera.readout_s * centre[:, 1] / height,
        centre_px=centre,
        width_px=np.concatenate([frame.width_px for frame in frames]),
        colour=np.concatenate([frame.colour for frame in frames]),
        clutter=np.concatenate([_clutter(frame, view) for frame in frames]),
    )


def _clutter(frame: Candidates, view: View) -> Floats:
    """Density of other candidates of like width around each: a near count and the whole frame's, never zero.

    A ball twenty pixels wide is not mistaken for a leaf of two, however many leaves there are.
    """
    if not len(frame):
        return np.zeros(0)
    radius = 0.06 * view.camera.size_px[0]
    apart = np.linalg.norm(frame.centre_px[:, None] - frame.centre_px[None], axis=-1)
    alike = np.abs(np.log(frame.width_px[:, None] / frame.width_px[None])) < ALIKE_LOG
    near = (((apart < radius) & alike).sum(axis=1) - 1) / (np.pi * radius**2)
    overall = (alike.sum(axis=1) + 1) / (view.camera.size_px[0] * view.camera.size_px[1])
    return np.asarray(near + overall)


def _seeds(pool: _Pool, view: View, prior: Prior) -> _Seeds:
    """Guess a flight from every plausible pair of candidates."""
    since = pool.time_s - prior.mean[TIME]
    slack = 2 * prior.sd[TIME]
    usable = (since > SEED_S[0] - slack) & (since < SEED_S[1]) & _plausible(pool, view, prior)
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


def _rarest(pool: _Pool, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Of each frame the candidates with the least of their like around them."""
    kept = [
        inside[np.argsort(pool.clutter[inside], kind="stable")[:MOST_IN_A_FRAME]]
        for inside in (rows[pool.frame[rows] == k] for k in np.unique(pool.frame[rows]))
    ]
    return np.concatenate(kept) if kept else rows


def _plausible(pool: _Pool, view: View, prior: Prior) -> NDArray[np.bool_]:
    """Whether a candidate's width and place admit any batted ball at its time."""
    reach = np.array([0.6, 0.75, 0.9, 1.1, 1.35, 1.7])
    distance = view.camera.focal_px * view.ball_diameter_m / np.maximum(pool.width_px, 1.5)
    rays = rays_field(pool.centre_px, view.camera)
    spots = view.camera.position_field_m + rays[:, None] * (distance[:, None] * reach)[..., None]
    since = np.maximum(pool.time_s - prior.mean[TIME], 0.004)[:, None]
    travelled = np.linalg.norm(spots - prior.mean[:3], axis=-1)
    slack = 2.0 * float(np.linalg.norm(prior.sd[:3])) + FASTEST_MPS * prior.sd[TIME]
    possible = (travelled < FASTEST_MPS * since + slack) & (travelled > SLOWEST_MPS * since - slack)
    return np.asarray((possible & (spots[..., 2] > -0.4)).any(axis=1))


def _starts(pool: _Pool, chosen: NDArray[np.intp], view: View, prior: Prior) -> Floats:
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


def _strongest(seeds: _Seeds, pool: _Pool, times: Floats, view: View, prior: Prior) -> _Seeds:
    """Keep the guesses that gather most around their own pair."""
    step = float(np.median(np.diff(times)))
    inside = _around(seeds, times, max(0.12, 3.5 * step), prior)
    gain = np.concatenate(
        [
            _match(seeds.arcs[part], seeds.covariance[part], pool, times, inside[part], view).gain.sum(axis=1)
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


def _match(
    arcs: Floats, covariance: Floats, pool: _Pool, times: Floats, inside: NDArray[np.bool_], view: View
) -> _Match:
    """Find the candidate on each arc in each frame that is inside (s, m), and what it proves."""
    height, count = view.camera.size_px[1], len(times)
    rough = sight(arcs, times, view)
    row_s = times + view.camera.readout_s * np.clip(np.nan_to_num(rough.centre_px[..., 1]), 0, height) / height
    now = sight(arcs, row_s, view)
    spread = spread_px(arcs, covariance, row_s, view)
    index = np.full((len(arcs), count), -1, dtype=np.intp)
    gain = np.zeros((len(arcs), count))
    visible = _in_sight(now, view)
    for k in np.flatnonzero(inside.any(axis=0)).tolist():
        rows = np.flatnonzero(pool.frame == k)
        index[:, k], gain[:, k] = _match_frame(now, spread[:, k], pool, rows, k)
    gain[~(visible & inside)] = 0.0
    index[~(visible & inside)] = -1
    return _Match(index, gain)


def _match_frame(
    now: Sighting, spread: Floats, pool: _Pool, rows: NDArray[np.intp], k: int
) -> tuple[NDArray[np.intp], Floats]:
    arcs = len(spread)
    noise = centre_noise_px(now.width_px[:, k]) ** 2
    # A guess as vague as that gathers nothing (see UNSURE_PX); its numbers need only stay finite.
    spread = np.where(np.isfinite(spread).all(axis=(1, 2), keepdims=True), spread, VAGUE_PX2 * np.eye(2))
    total = spread + (noise + 1e-9 * np.trace(spread, axis1=1, axis2=2))[:, None, None] * np.eye(2)
    vague = np.sqrt(np.trace(spread, axis1=1, axis2=2)) > UNSURE_PX
    missed = np.where(vague, 0.0, np.log(1.0 - DETECTED))
    if not len(rows):
        return np.full(arcs, -1, dtype=np.intp), missed
    offset = pool.centre_px[rows] - now.centre_px[:, k, None]
    distance_sq = np.einsum("sni,sij,snj->sn", offset, np.linalg.inv(total), offset)
    width = np.log(pool.width_px[rows] / now.width_px[:, k, None]) / width_noise_log(now.width_px[:, k, None])
    log_peak = -np.log(2 * np.pi) - 0.5 * np.log(np.maximum(np.linalg.det(total), 1e-9))[:, None]
    # Width counts against a flat spread of chance widths over about e^2.
    worth = log_peak - 0.5 * distance_sq - 0.5 * width**2 + 0.5 - np.log(pool.clutter[rows])
    worth = np.where((distance_sq < GATE**2) & (np.abs(width) < GATE) & np.isfinite(distance_sq), worth, -np.inf)
    best = worth.argmax(axis=1)
    value = np.take_along_axis(worth, best[:, None], axis=1)[:, 0] + np.log(DETECTED)
    hit = (value > missed) & ~vague
    return np.where(hit, rows[best], -1), np.where(hit, value, missed)


def _in_sight(now: Sighting, view: View) -> NDArray[np.bool_]:
    width, height = view.camera.size_px
    u, v = now.centre_px[..., 0], now.centre_px[..., 1]
    half = 0.5 * now.width_px
    inside = (u > half) & (u < width - half) & (v > half) & (v < height - half)
    return np.asarray(inside & (now.points_field_m[..., 2] > 0.0) & (now.width_px > 1.5))


def _seen(match: _Match, pool: _Pool) -> Seen:
    none = match.index < 0
    safe = np.where(none, 0, match.index)
    return Seen(
        pool.time_s[safe],
        np.where(none[..., None], np.nan, pool.centre_px[safe]),
        np.where(none, np.nan, pool.width_px[safe]),
    )


def _distinct(
    arcs: Floats, covariance: Floats, pool: _Pool, times: Floats, view: View, prior: Prior
) -> tuple[Linked, ...]:
    """The arcs with the most evidence after contact, each explaining candidates that none before it does.

    With an arc whose candidates are not one flight comes the best stretch of it that is.
    """
    every = _weigh(arcs, covariance, pool, times, view)
    found: list[Linked] = []
    taken: set[int] = set()
    count = 0
    for k in np.argsort(-every.evidence).tolist():
        rows = set(every.rows(k).tolist())
        if every.possible[k] and len(rows & taken) < 0.5 * len(rows):
            taken |= rows
            count += 1
            found.append(every.linked(k, pool, times, view))
            if found[-1].rms > LARGEST_RMS:
                found += _stretch(arcs[k], every.rows(k), pool, times, view, prior)
        if count == MOST_BALLS:
            break
    return tuple(sorted(found, key=lambda ball: -ball.evidence))


@dataclass(frozen=True, slots=True, eq=False)
class _Weighed:
    """Arcs with the candidates on them, and what these prove."""

    arcs: Floats  # (s, 9)
    covariance: Floats
    match: _Match
    hit: NDArray[np.bool_]  # (s, m) frames after contact with a candidate
    counted: NDArray[np.bool_]  # (s, m) frames from contact to the last hit
    evidence: Floats  # (s,)
    possible: NDArray[np.bool_]  # (s,)

    def rows(self, k: int) -> NDArray[np.intp]:
        """The candidates on an arc, in order of time."""
        return np.asarray(self.match.index[k][self.hit[k]])

    def linked(self, k: int, pool: _Pool, times: Floats, view: View) -> Linked:
        """One of the arcs as a ball."""
        share = float(self.hit[k].sum() / max(int((self.counted[k] & (self.match.gain[k] != 0.0)).sum()), 1))
        ball = _summary(self.arcs[k], self.covariance[k], self.match.index[k], pool, times, view)
        return replace(ball, evidence=float(self.evidence[k]), share=share)


def _weigh(
    arcs: Floats, covariance: Floats, pool: _Pool, times: Floats, view: View, until_s: Floats | None = None
) -> _Weighed:
    """Weigh the arcs by what they meet, each only ``until_s`` (s,) if that is given."""
    inside = np.ones((len(arcs), len(times)), dtype=np.bool_)
    if until_s is not None:
        inside = times[None] <= until_s[:, None]
    after = times[None] > arcs[:, TIME : TIME + 1] - 0.005
    match = _match(arcs, covariance, pool, times, inside, view)
    hit = (match.index >= 0) & after
    last = np.where(hit.any(axis=1), hit.shape[1] - 1 - hit[:, ::-1].argmax(axis=1), -1)
    counted = after & (np.arange(len(times))[None] <= last[:, None])
    evidence = np.where(counted, match.gain, 0.0).sum(axis=1)
    speed = np.linalg.norm(arcs[:, 3:TIME], axis=1)
    possible = (speed > SLOWEST_MPS) & (speed < FASTEST_MPS) & (hit.sum(axis=1) >= FEWEST_HITS)
    return _Weighed(arcs, covariance, match, hit, counted, evidence, possible)


def _stretch(arc: Floats, rows: NDArray[np.intp], pool: _Pool, times: Floats, view: View, prior: Prior) -> list[Linked]:
    """The stretch of an arc's candidates with the most evidence that is one flight; or none."""
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
    balls = [weighed.linked(k, pool, times, view) for k in np.flatnonzero(weighed.possible).tolist()]
    one_flight = [ball for ball in balls if ball.rms <= LARGEST_RMS and ball.hits >= FEWEST_OF_STRETCH]
    return [max(one_flight, key=lambda ball: ball.evidence)] if one_flight else []


def _summary(
    arc: Floats, covariance: Floats, index: NDArray[np.intp], pool: _Pool, times: Floats, view: View
) -> Linked:
    """What an arc with its candidates amounts to; evidence and share are still to be filled in."""
    rows = index[(index >= 0) & (times > arc[TIME] - 0.005)]
    now = sight(arc[None], pool.time_s[rows], view)
    beyond = np.linalg.norm(now.points_field_m[0] - arc[:3], axis=-1) > REACH_M
    off = np.linalg.norm(pool.centre_px[rows] - now.centre_px[0], axis=-1) / centre_noise_px(now.width_px[0])
    before = (index >= 0) & (times < arc[TIME] - 0.06) & (times > arc[TIME] - 0.35)
    rms = float(np.sqrt(np.mean(np.sort(off)[: max(int(np.ceil(CORE_SHARE * len(off))), 1)] ** 2)))
    path = pool.centre_px[rows]
    travel = float(np.linalg.norm(np.ptp(path, axis=0)) / np.mean(pool.width_px[rows])) if len(rows) else 0.0
    seen = Seen(pool.time_s[rows][None], path[None], pool.width_px[rows][None])
    return Linked(arc, covariance, 0.0, len(rows), 0.0, int(beyond.sum()), int(before.sum()), rms, travel, seen)
