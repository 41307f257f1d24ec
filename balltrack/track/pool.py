"""The candidates of all frames around a contact, and which of them lie on an arc."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.candidates import Candidates
from balltrack.track.arcs import Seen, Sighting, View, centre_noise_px, sight_in_frames, width_noise_log
from balltrack.track.meeting import Foreseen, Found, met
from balltrack.units import Floats

ALIKE_LOG = 0.7
# What the network says of a candidate, as log likelihood ratios: it finds more than nine balls in ten and calls one in
# twenty other movers a ball (models/README.md); half of that is believed, since it errs alike from frame to frame.
LOOKS_LIKE, LOOKS_UNLIKE = 1.7, -1.2
UNLIKE_FROM_PX = 4.0  # it misses more of the smaller balls


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
    now: Sighting  # (s, m) where the guess would be seen; NaN in frames that no guess was to look at


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
    u, v, width = *frame.centre_px.T, np.log(frame.width_px)
    apart_sq = np.square(u[:, None] - u) + np.square(v[:, None] - v)
    alike = np.abs(width[:, None] - width) < ALIKE_LOG
    near = (np.count_nonzero(alike & (apart_sq < radius**2), axis=1) - 1) / (np.pi * radius**2)
    overall = (np.count_nonzero(alike, axis=1) + 1) / (view.camera.size_px[0] * view.camera.size_px[1])
    return np.asarray(near + overall)


def match_arcs(
    arcs: Floats, covariance: Floats, pool: Pool, times: Floats, inside: NDArray[np.bool_], view: View
) -> Match:
    """Find the candidate on each arc in each frame that is inside (s, m), and what it proves."""
    used = np.flatnonzero(inside.any(axis=0))  # an arc is followed no further than it is looked at
    now, spread = sight_in_frames(arcs, covariance, times[used], view)
    looked = inside[:, used] & _in_sight(now, view)
    sds = centre_noise_px(now.width_px), width_noise_log(now.width_px)
    first_of = np.searchsorted(pool.frame, np.arange(len(times) + 1))
    found = Found(first_of[used], first_of[used + 1], pool.centre_px, np.log(pool.width_px), np.log(pool.clutter))
    index, gain = np.full(inside.shape, -1, dtype=np.intp), np.zeros(inside.shape)
    index[:, used], gain[:, used] = met(Foreseen(looked, now.centre_px, now.width_px, spread, *sds), found)
    return Match(index, gain, _all_frames(now, used, inside.shape))


def _all_frames(now: Sighting, used: NDArray[np.intp], shape: tuple[int, ...]) -> Sighting:
    """A sighting in some frames as one in all of them."""
    if len(used) == shape[1]:
        return now
    centre, width, points = np.full((*shape, 2), np.nan), np.full(shape, np.nan), np.full((*shape, 3), np.nan)
    centre[:, used], width[:, used], points[:, used] = now.centre_px, now.width_px, now.points_field_m
    return Sighting(centre, width, points)


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
