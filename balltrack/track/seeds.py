"""Guessed flights from pairs of candidates and a known end: what linking a hit and linking a pitch have in common."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import rays_field
from balltrack.track.arcs import TIME, Prior, Seen, View, centre_noise_px, sight, width_noise_log
from balltrack.track.bending import SIZE
from balltrack.track.pool import Pool
from balltrack.units import Floats

SEEDS_PER_CANDIDATE = 3
FURTHEST_SDS, UNLIKELIEST = 3.0, 25.0  # of a pair from its guess; of a guess from what is known beforehand, squared
GRAVITY_MPS2 = 9.8  # to start from; `bend` flies by the physics


@dataclass(frozen=True, slots=True)
class Kind:
    """What a guessed flight may be."""

    soonest_s: float  # after its end, or before it if negative, a candidate may be
    slowest_mps: float
    fastest_mps: float
    growth_per_s: float  # by which the logarithm of its width may change


def rarest(pool: Pool, rows: NDArray[np.intp], most: int) -> NDArray[np.intp]:
    """Of each frame so many candidates: those with the least of their like around them."""
    kept = [
        inside[np.argsort(pool.clutter[inside], kind="stable")[:most]]
        for inside in (rows[pool.frame[rows] == k] for k in np.unique(pool.frame[rows]))
    ]
    return np.concatenate(kept) if kept else rows


def alike_pairs(
    pool: Pool, rows: NDArray[np.intp], gap_s: tuple[float, float], kind: Kind
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Two of the rows each, (s,) and (s,), that may be one ball, the second seen later by a time between these.

    Width may halve between two frames only when the ball is near; colour hardly changes.
    """
    times = pool.time_s[rows]
    apart = times[None] - times[:, None]
    first, second = (rows[each] for each in np.nonzero((apart > gap_s[0]) & (apart < gap_s[1])))
    thin = np.minimum(pool.width_px[first], pool.width_px[second])
    most = 0.35 + kind.growth_per_s * (pool.time_s[second] - pool.time_s[first]) + 1.5 / thin
    keep = np.abs(np.log(pool.width_px[first] / pool.width_px[second])) < most
    keep &= np.abs(pool.colour[first, 1:] - pool.colour[second, 1:]).max(axis=1, initial=0.0) < 30.0
    return first[keep], second[keep]


def seen_in_pairs(pool: Pool, first: NDArray[np.intp], second: NDArray[np.intp]) -> Seen:
    """What each pair of candidates (s,), (s,) shows: (s, 2)."""
    return Seen(
        np.stack([pool.time_s[first], pool.time_s[second]], axis=1),
        np.stack([pool.centre_px[first], pool.centre_px[second]], axis=1),
        np.stack([pool.width_px[first], pool.width_px[second]], axis=1),
    )


def starts(pool: Pool, chosen: NDArray[np.intp], view: View, prior: Prior, kind: Kind) -> Floats:
    """(s, 9) guesses on the line between the usual end and where each candidate's width puts it."""
    distance = view.camera.focal_px * view.ball_diameter_m / np.maximum(pool.width_px[chosen], 2.0)
    spots = view.camera.position_field_m + rays_field(pool.centre_px[chosen], view.camera) * distance[:, None]
    side = np.sign(kind.soonest_s)
    since = side * np.maximum(side * (pool.time_s[chosen] - prior.mean[TIME]), abs(kind.soonest_s))[:, None]
    velocity = (spots - prior.mean[:3]) / since
    velocity[:, 2] += 0.5 * GRAVITY_MPS2 * since[:, 0]
    speed = np.linalg.norm(velocity, axis=1, keepdims=True)
    velocity *= np.clip(speed, kind.slowest_mps, kind.fastest_mps) / np.maximum(speed, 1e-6)
    end = np.broadcast_to(prior.mean[:3], spots.shape)
    rest = np.broadcast_to(prior.mean[TIME:], (len(chosen), SIZE - TIME))
    return np.concatenate([end, velocity, rest], axis=1)


def agree(arcs: Floats, seen: Seen, view: View, prior: Prior, kind: Kind) -> NDArray[np.bool_]:
    """(s,) whether an arc passes its pair, and may be of this kind."""
    now = sight(arcs, seen.time_s, view)
    miss = np.linalg.norm(seen.centre_px - now.centre_px, axis=-1) / centre_noise_px(seen.width_px)
    off = np.abs(np.log(seen.width_px / now.width_px)) / width_noise_log(seen.width_px)
    unlikely = np.sum(((arcs - prior.mean) / prior.sd) ** 2, axis=1)
    speed = np.linalg.norm(arcs[:, 3:TIME], axis=1)
    good = (miss.max(axis=1) < FURTHEST_SDS) & (off.max(axis=1) < FURTHEST_SDS) & (unlikely < UNLIKELIEST)
    return np.asarray(good & (speed > kind.slowest_mps) & (speed < kind.fastest_mps))


def spread_out(pair: NDArray[np.intp], order: NDArray[np.intp], most: int) -> NDArray[np.intp]:
    """The first guesses of an order, few from any one candidate: a swinging arm must not crowd out the ball.

    ``pair`` (s, 2) are their candidates' rows of the pool.
    """
    used: dict[int, int] = {}
    kept: list[int] = []
    for k in order.tolist():
        one, other = pair[k].tolist()
        if max(used.get(one, 0), used.get(other, 0)) < SEEDS_PER_CANDIDATE:
            used[one], used[other] = used.get(one, 0) + 1, used.get(other, 0) + 1
            kept.append(k)
        if len(kept) == most:
            break
    return np.array(kept, dtype=np.intp)
