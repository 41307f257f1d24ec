"""A pitched ball's flight in numbers: how fast, how high, how steep, and where over the plate."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.errors import FlightError
from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.evidence import ContactPrior, Setting, Trust, gather, launch_of
from balltrack.flight.fit import FlightFit, fit_flight
from balltrack.flight.forces import lift_directions
from balltrack.flight.path import Launch, Path, fly
from balltrack.flight.solver import jacobian
from balltrack.track.ball import BallTrack
from balltrack.units import Floats

AFTER_S = 0.7  # so long after its end a pitch is flown on, to where it would have passed the plate's front edge
BISECTIONS = 40
# Where nobody saw the ball rise, a highest point further back was in the air only if it lies nearer to the plate than
# the hand that let go: a stride and an arm in front of the pitcher's plate (common practice, no source).
STRIDE_M = 2.0
NOT_LONG_S = 0.4  # before the ball was first seen; further back a path is drawn too boldly
FEWEST_ROWS = 4
# A ball still in the hand is on no flight: the first rows are left out where all the others together say, one such
# miss in 1000 coming by chance, that they lie off it. Each time at most half of the rows, and so often:
HELD_SDS, HELD_ROUNDS = 3.09, 3
# Vaguer numbers than these (one standard deviation) help nobody: about 5 mph, 2 ft, 5 degrees, a plate's half.
VAGUE_SPEED_SD_MPS, VAGUE_APEX_SD_M, VAGUE_DESCENT_SD_DEG, VAGUE_PLATE_SD_M = 2.2, 0.6, 5.0, 0.2
SCALES = np.array([0.1] * 3 + [1.0] * 3 + [0.01] + [0.1] * 3)  # as in `evidence`
MET_SD_M = 0.3  # an end that is known no better than this, as of a pitch that nobody hit, tells of no meeting

Known = tuple[float, float]
"""A number and one standard deviation of it."""
_Along = Callable[[Floats], Floats]  # (b,) times -> (b,) a value there, one of each path


@dataclass(frozen=True, slots=True)
class PitchNumbers:
    """What is told of a pitch; None for what is not, or is too vague to help."""

    frames: int  # that the flight is fitted to
    first_s: float  # clip time at which it was first seen
    speed_mps: Known | None  # then
    apex_m: Known | None  # highest point of the ball's centre above the ground, between the hand and the plate
    descent_deg: Known | None  # below the horizon, over the plate's front edge
    plate_x_m: Known | None  # over the plate's front edge, toward first base
    plate_z_m: Known | None  # and above the ground
    plate_s: Known | None  # clip time when it is there, or would have been
    early_s: Known | None  # how long before that its flight ended: at the bat
    aside_m: Known | None  # how far off the pitch's own path the hit has the bat meet it: level, toward first base
    above_m: Known | None  # and across that, upward


def fit_pitch(track: BallTrack, end: ContactPrior, setting: Setting, start: Launch) -> FlightFit:
    """Fit a pitch's flight, backward from its end.

    Parameters
    ----------
    track : BallTrack
    end : ContactPrior
        What is known of its end: of a hit, where and when bat met ball.
    setting : Setting
        With the spin of a pitch.
    start : Launch
        A first guess of place and velocity at the end.

    Raises
    ------
    FlightError
        If there are too few rows, or no flight of believable speed passes enough of them.
    """
    held = np.zeros(len(track.used), dtype=bool)
    for _ in range(HELD_ROUNDS):
        free = replace(track, used=track.used & ~held)
        if free.used.sum() < FEWEST_ROWS:
            raise FlightError(f"the pitch was followed in {free.used.sum()} frames, at least {FEWEST_ROWS} are needed")
        fit = fit_flight(free, end, setting, start)
        more = _in_hand(fit, free, end, setting)
        fit = replace(fit, outlier=fit.outlier | (held & track.used))
        if not more.any():
            break
        held, start = held | more, fit.launch
    return fit


def _in_hand(fit: FlightFit, track: BallTrack, end: ContactPrior, setting: Setting) -> NDArray[np.bool_]:
    """(n,) the first of the rows used, as far as they do not lie on the flight of those that follow.

    Of a least squares fit with hat matrix H, rows g left out miss the fit to all others by (1 - H_gg)^-1 r_g, and the
    sum of squares falls by r_g (1 - H_gg)^-1 r_g.
    """
    rows = track.used & ~fit.outlier
    evidence, used = gather(track, end, setting, rows), np.flatnonzero(rows)

    def residuals(vectors: Floats) -> Floats:
        return evidence.blocks(vectors).flat(Trust(np.ones(len(used))))

    slope = jacobian(residuals, fit.parameters, evidence.scale)
    scaled = slope * evidence.scale
    hat = scaled[: 2 * len(used)] @ np.linalg.pinv(scaled.T @ scaled, hermitian=True) @ scaled[: 2 * len(used)].T
    miss = residuals(fit.parameters[None])[0, : 2 * len(used)]
    most, best = 0.0, 0
    for first in range(1, len(used) // 2 + 1):
        freedom, others = 2 * first, 2 * (len(used) - first) - 6  # six numbers come from the rows
        own = slice(freedom)
        falls = float(miss[own] @ np.linalg.pinv(np.eye(freedom) - hat[own, own], hermitian=True) @ miss[own])
        noise = max(1.0, (float(miss @ miss) - falls) / max(others, 1))
        beyond = falls / noise - _by_chance(freedom)
        if beyond > most:
            most, best = beyond, first
    held = np.zeros(len(track.used), dtype=bool)
    held[used[:best]] = True
    return held


def _by_chance(freedom: int) -> float:
    """What a chi-squared of so many degrees of freedom passes by chance once in 1000 times (Wilson and Hilferty)."""
    part = 2 / (9 * freedom)
    return float(freedom * (1 - part + HELD_SDS * np.sqrt(part)) ** 3)


def pitch_numbers(
    fit: FlightFit, track: BallTrack, end: ContactPrior, setting: Setting, hand_m: float | None
) -> PitchNumbers:
    """What a fitted pitch comes to.

    Parameters
    ----------
    fit : FlightFit
        From `fit_pitch`.
    track, end, setting
        What it was fitted with.
    hand_m : float or None
        How far in front of the plate's tip the ball was let go; None where that is not known, as of a toss. [m]
    """
    used = track.used & ~fit.outlier
    first_s = float(track.time_s[used].min())

    def told(vectors: Floats) -> Floats:
        return _told(vectors, first_s, setting)

    vector = fit.parameters[: len(SCALES)]
    values = told(vector[None])[0]
    slope = jacobian(told, vector, SCALES)
    sds = np.sqrt(np.einsum("ij,jk,ik->i", slope, fit.covariance, slope))
    speed, apex_z, apex_y, apex_s, descent, x, z, plate_s, early = (
        (float(value), float(sd)) for value, sd in zip(values, sds, strict=True)
    )
    aside, above = _off_path(fit, end)
    crossed = bool(np.isfinite(values[4:]).all()) and z[0] > 0
    return PitchNumbers(
        frames=fit.rows_used,
        first_s=first_s,
        speed_mps=_unless_vague(speed, VAGUE_SPEED_SD_MPS),
        apex_m=_unless_vague(apex_z, VAGUE_APEX_SD_M) if _was_flown(apex_s, apex_y, first_s, hand_m) else None,
        descent_deg=_unless_vague(descent, VAGUE_DESCENT_SD_DEG) if crossed else None,
        plate_x_m=_unless_vague(x, VAGUE_PLATE_SD_M) if crossed else None,
        plate_z_m=_unless_vague(z, VAGUE_PLATE_SD_M) if crossed else None,
        plate_s=plate_s if crossed else None,
        early_s=early if crossed else None,
        aside_m=aside,
        above_m=above,
    )


def _off_path(fit: FlightFit, end: ContactPrior) -> tuple[Known | None, Known | None]:
    """How far the end, as known without the pitch, lies off the pitch as seen without knowing its end.

    The fit holds both. Of a fit with covariance P to an observation of covariance R the residual r has R - P, and
    what the observation missed the rest by is R (R - P)^-1 r, with covariance R (R - P)^-1 R.
    """
    if np.max(end.position_sd_m) > MET_SD_M:
        return None, None
    known = np.diag(np.asarray(end.position_sd_m) ** 2)
    gain = known @ np.linalg.pinv(known - fit.covariance[:3, :3], hermitian=True)
    off, spread = gain @ (end.position_m - fit.contact_m), gain @ known
    side, up = lift_directions(np.asarray(fit.launch.velocity_mps))
    sides = [(float(way @ off), float(np.sqrt(np.maximum(way @ spread @ way, 0.0)))) for way in (-side, up)]
    return sides[0], sides[1]


def _unless_vague(known: Known, limit: float) -> Known | None:
    return known if np.isfinite(known).all() and known[1] <= limit else None


def _was_flown(apex_s: Known, apex_y: Known, first_s: float, hand_m: float | None) -> bool:
    """Whether the highest point of the path was the ball's own, and not only of a path drawn back behind the hand."""
    if not np.isfinite(apex_s[0]):
        return False
    seen_rising = apex_s[0] - apex_s[1] > first_s
    soon_before = apex_s[0] > first_s - NOT_LONG_S
    in_front = hand_m is not None and apex_y[0] + apex_y[1] < hand_m - STRIDE_M
    return seen_rising or (soon_before and in_front)


def _told(vectors: Floats, first_s: float, setting: Setting) -> Floats:
    """(b, 9) first speed; the highest point's z, y, clip time; descent, x, z, clip time over the plate, and early."""
    end_s = vectors[:, 6]
    # No further back than is asked for: drag has a path flown backward gain speed without limit.
    path = fly(launch_of(vectors), setting.medium, AFTER_S, first_s - float(end_s.max()) - NOT_LONG_S)
    speed = np.linalg.norm(_velocity(path, (first_s - end_s)[:, None])[:, 0], axis=1)
    top_s = _falls_through(path, lambda at: _velocity(path, at[:, None])[:, 0, 2], 0.0)
    top = path.at(np.nan_to_num(top_s)[:, None])[:, 0]
    over_s = _falls_through(path, lambda at: path.at(at[:, None])[:, 0, 1], PLATE_DEPTH_M)
    at_s = np.nan_to_num(over_s)[:, None]
    over, velocity = path.at(at_s)[:, 0], _velocity(path, at_s)[:, 0]
    descent = np.degrees(np.arctan2(-velocity[:, 2], np.hypot(velocity[:, 0], velocity[:, 1])))
    columns = (speed, top[:, 2], top[:, 1], top_s + end_s, descent, over[:, 0], over[:, 2], over_s + end_s, over_s)
    return np.stack(columns, axis=1)


def _velocity(path: Path, since_s: Floats) -> Floats:
    """(b, n, 3) at (b, n) times. [m/s]"""
    half_s = 5e-4
    inside = np.clip(since_s, path.time_s[0] + half_s, path.time_s[-1] - half_s)
    return np.asarray((path.at(inside + half_s) - path.at(inside - half_s)) / (2 * half_s))


def _falls_through(path: Path, value: _Along, level: float) -> Floats:
    """(b,) when a value that only falls along each path passes a level. [s] NaN where it does not."""
    count = len(path.position_m)
    low, high = np.full(count, path.time_s[0]), np.full(count, path.time_s[-1])
    passes = (value(low) > level) & (value(high) < level)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        above = value(middle) > level
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(passes, (low + high) / 2, np.nan)
