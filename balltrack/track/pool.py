"""The candidates of all frames around a contact, and which of them lie on an arc."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.candidates import Candidates
from balltrack.track.arcs import Seen, Sighting, View, centre_noise_px, sight, spread_px, width_noise_log
from balltrack.units import Floats

ALIKE_LOG = 0.7
GATE = 3.5  # standard deviations
DETECTED = 0.75  # chance that a ball in plain sight becomes a candidate
VAGUE_PX2 = 1e8
# What the network says of a candidate, as log likelihood ratios: it finds more than nine balls in ten and calls one in
# twenty other movers a ball (models/README.md); half of that is believed, since it errs alike from frame to frame.
LOOKS_LIKE, LOOKS_UNLIKE = 1.7, -1.2
UNLIKE_FROM_PX = 4.0  # it misses more of the smaller balls
UNSURE_PX = 60.0  # a guess that is vaguer than this at some time gathers nothing there


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """All candidates of the window, one row each."""

    frame: NDArray[np.intp]  # (n,)
    time_s: Floats  # (n,) of the candidate's row
    centre_px: Floats  # (n, 2)
    width_px: Floats
    streak_px: Floats  # (n,) motion while the shutter was open, if it is a ball
    colour: Floats
    clutter: Floats  # (n,) chance candidates per square pixel near it, in its frame, by motion and the network's word
    likeness: Floats  # (n,) as in Candidates


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """For guesses s and frames m, the candidate on each guess."""

    index: NDArray[np.intp]  # (s, m) row of the pool; -1 where none
    gain: Floats  # (s, m) log likelihood ratio gained or lost in the frame


def pool_of(frames: Sequence[Candidates], view: View) -> Pool:
    """All candidates of the frames, in their order."""
    centre = np.concatenate([frame.centre_px for frame in frames])
    index = np.concatenate([np.full(len(frame), k, dtype=np.intp) for k, frame in enumerate(frames)])
    stamp = np.array([frame.time_s for frame in frames])
    return Pool(
        frame=index,
        time_s=row_time_s(stamp[index], centre, view),
        centre_px=centre,
        width_px=np.concatenate([frame.width_px for frame in frames]),
        streak_px=np.concatenate([_streak_px(frame) for frame in frames]),
        colour=np.concatenate([frame.colour for frame in frames]),
        clutter=np.concatenate([_clutter(frame, view) * np.exp(-_told(frame)) for frame in frames]),
        likeness=np.concatenate([frame.likeness for frame in frames]),
    )


def row_time_s(stamp_s: Floats | float, centre_px: Floats, view: View) -> Floats:
    """(n,) when the sensor read the rows of places (n, 2) in frames of given timestamps."""
    return np.asarray(stamp_s + view.camera.readout_s * centre_px[:, 1] / view.camera.size_px[1])


def _streak_px(frame: Candidates) -> Floats:
    """Of a disc swept along: variances add, d²/16 of the disc and s²/12 of an even run, and length is 4 sd."""
    return np.sqrt(0.75 * np.maximum(frame.length_px**2 - frame.width_px**2, 0.0))


def _told(frame: Candidates) -> Floats:
    """(n,) log likelihood ratio of a ball against another mover; nothing where the network has not looked."""
    unlike = np.where(frame.width_px < UNLIKE_FROM_PX, 0.0, LOOKS_UNLIKE)
    return np.where(np.isnan(frame.likeness), 0.0, np.where(frame.likeness > 0, LOOKS_LIKE, unlike))


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


def match_arcs(
    arcs: Floats, covariance: Floats, pool: Pool, times: Floats, inside: NDArray[np.bool_], view: View
) -> Match:
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
    return Match(index, gain)


def _match_frame(
    now: Sighting, spread: Floats, pool: Pool, rows: NDArray[np.intp], k: int
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


def seen_by(match: Match, pool: Pool) -> Seen:
    """What each guess has gathered, NaN in the frames where that is nothing."""
    none = match.index < 0
    safe = np.where(none, 0, match.index)
    return Seen(
        pool.time_s[safe],
        np.where(none[..., None], np.nan, pool.centre_px[safe]),
        np.where(none, np.nan, pool.width_px[safe]),
    )
