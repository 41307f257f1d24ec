"""Gravity from a real ball in free flight: how far off are size, place and time of what the package follows?

The camera is not known, but the ball is: how wide it looks tells how far away it is. All flights of a clip share the
pull, whose direction the camera need not be told, a lens that is known roughly, and the doubts of scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from balltrack.units import Floats
from footage.fall import Seen

Mask = NDArray[np.bool_]

# What is doubted, in log units unless said. A picture's middle, of its longer side; a streak's edges make a ball look
# wider or narrower by about a pixel in 25 (as the labels' own README has it).
LENS_SD, MIDDLE_SD, BARREL_SD, LOOKS_WIDER_SD, DRAG_SD = 0.15, 0.03, 0.1, 0.04, 0.5
PLACE_SD_PX, WIDTH_SD = 1.0, 0.1  # of one frame: lens distortion and a hand's sway included
OUTLIER = 4.0  # standard deviations
NEAR_BOUNCE = 2  # frames left out on either side of a bounce
SPAN = 4  # frames from which a velocity is told
TURNS_BACK = 3.0  # times the pull's change of speed, the other way: a bounce
FEWEST_FRAMES = 8
ENOUGH = 1e-6  # relative change at which the fit has come to rest
GRID = 61  # steps on which drag is summed up


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a clip beside its pictures."""

    size_px: tuple[int, int]
    ball_m: float
    ball_sd: float  # relative
    lens_deg: float  # field of view across the longer side; phones and cameras: 50 to 65, common practice, no source
    drag_pm: float  # air density, drag coefficient and area over twice the mass
    second_s: float = 1.0  # real seconds in a second of the file
    drop: tuple[float, float, float] | None = None  # times in the file at top and bottom, and the metres between
    drop_sd: float = 0.03  # relative


@dataclass(frozen=True, slots=True)
class Pull:
    """What the flights say of gravity."""

    mps2: float
    sd_mps2: float
    ball_lengths_ps2: float  # the same in diameters of the ball, where its size is not known
    ball_lengths_sd_ps2: float
    frames: int
    residual_px: float  # root mean square, as far as kept

    @property
    def interval_mps2(self) -> tuple[float, float]:
        """Holds the truth 90 times in 100, if the doubts are as stated."""
        return self.mps2 - 1.645 * self.sd_mps2, self.mps2 + 1.645 * self.sd_mps2


def flights_of(seen: Seen) -> list[Seen]:
    """Cut what was seen at its bounces, and leave out the frames beside them."""
    velocity, at_s = _slopes(seen.centre_px, seen.time_s)
    pull = np.median(_slopes(velocity, at_s)[0], axis=0)  # nearly all frames fly
    along = velocity @ (pull / np.linalg.norm(pull))
    rise = along[SPAN:] - along[:-SPAN]
    back = rise < -TURNS_BACK * float(np.linalg.norm(pull)) * (at_s[SPAN:] - at_s[:-SPAN])
    cuts = [0, *(k + SPAN for k in _middles(np.flatnonzero(back))), len(seen.time_s)]
    return [
        seen.only(np.arange(first + NEAR_BOUNCE, last - NEAR_BOUNCE))
        for first, last in pairwise(cuts)
        if last - first >= FEWEST_FRAMES + 2 * NEAR_BOUNCE
    ]


def _slopes(places: Floats, time_s: Floats) -> tuple[Floats, Floats]:
    """(n - SPAN, 2) change a second over ``SPAN`` frames, and the middles of the stretches."""
    gaps_s = time_s[SPAN:] - time_s[:-SPAN]
    return (places[SPAN:] - places[:-SPAN]) / gaps_s[:, None], 0.5 * (time_s[SPAN:] + time_s[:-SPAN])


def _middles(found: NDArray[np.intp]) -> list[int]:
    """One number for each run of neighbouring ones."""
    runs = np.split(found, np.flatnonzero(np.diff(found) > 1) + 1)
    return [int(run[len(run) // 2]) for run in runs if len(run)]


def pull_of(flights: Sequence[Seen], known: Known) -> Pull:
    """Fit one pull to flights of one clip.

    Raises
    ------
    ValueError
        Without a flight.
    """
    if not flights:
        raise ValueError("no stretch of free flight is long enough to fit")
    model = _Model(flights, known)
    kept: Mask = np.ones(model.seen_count, dtype=np.bool_)
    start = model.start()
    for _ in range(3):  # what is not the ball is left out once the fit shows it
        done = least_squares(model.misses, start, args=(kept,), x_scale="jac", ftol=ENOUGH, xtol=ENOUGH)
        start = done.x
        kept = model.alike(done.x)
    done = least_squares(model.misses, start, args=(kept,), x_scale="jac", ftol=ENOUGH, xtol=ENOUGH)
    jacobian = np.asarray(done.jac, dtype=np.float64)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    off = model.off_px(done.x)[kept]
    lengths, slope = model.lengths(done.x)
    metres = float(np.exp(done.x[BALL]))
    both = np.concatenate([[lengths], slope])
    within = covariance[np.ix_([BALL, *PULL], [BALL, *PULL])]
    return Pull(
        metres * lengths, metres * float(np.sqrt(both @ within @ both)),
        lengths, float(np.sqrt(slope @ within[1:, 1:] @ slope)), int(kept.sum()), float(np.sqrt(np.mean(off**2))),
    )  # fmt: skip


LENS, MIDDLE, WIDER, BALL, DRAG, BARREL = 0, slice(1, 3), 3, 4, 5, 6
PULL = (7, 8, 9)  # camera frame, in the ball's diameters a second squared
SHARED = 10
OF_FLIGHT = 6  # place and velocity at its middle, in the ball's diameters


class _Model:
    """What flights with a common pull look like."""

    def __init__(self, flights: Sequence[Seen], known: Known) -> None:
        self._known = known
        self._middle_s = [float(np.mean(each.time_s)) for each in flights]
        self._flights = flights
        width, height = known.size_px
        self._longer = max(width, height)
        self._focal_px = 0.5 * self._longer / np.tan(0.5 * np.radians(known.lens_deg))
        self._centre_px = np.array([width - 1, height - 1]) / 2
        self.seen_count = sum(len(each.time_s) for each in flights)

    def start(self) -> Floats:
        """Parabolas in the picture, all at the distance that the ball's size tells."""
        shared = np.zeros(SHARED)
        shared[BALL], shared[DRAG] = np.log(self._known.ball_m), np.log(self._known.drag_pm)
        pulls, own = [], []
        for each, middle_s in zip(self._flights, self._middle_s, strict=True):
            bent = np.polyfit((each.time_s - middle_s) * self._known.second_s, each.centre_px, 2)
            width = float(np.median(each.diameter_px))
            pulls.append(2 * bent[0] / width)
            place = (bent[2] - self._centre_px) / width
            own.append([*place, self._focal_px / width, *(bent[1] / width), 0.0])
        shared[list(PULL)] = [*np.mean(pulls, axis=0), 0.0]
        return np.concatenate([shared, np.ravel(own)])

    def misses(self, x: Floats, kept: Mask) -> Floats:
        """How far the flights are from what was seen and was known, in standard deviations."""
        off, wide = self._off(x)
        return np.concatenate([off[kept].ravel(), wide[kept], self._doubts(x)])

    def alike(self, x: Floats) -> Mask:
        """(seen_count,) which frames lie as near as they should."""
        off, wide = self._off(x)
        return np.asarray((np.linalg.norm(off, axis=1) < OUTLIER) & (np.abs(wide) < OUTLIER))

    def off_px(self, x: Floats) -> Floats:
        """(seen_count,) distance in the picture."""
        return np.asarray(np.linalg.norm(self._off(x)[0], axis=1) * PLACE_SD_PX)

    def lengths(self, x: Floats) -> tuple[float, Floats]:
        """The pull in the ball's diameters, and how it changes with ``PULL``."""
        pull = x[list(PULL)]
        size = float(np.linalg.norm(pull))
        return size, pull / size

    def _off(self, x: Floats) -> tuple[Floats, Floats]:
        off, wide = [], []
        for k, each in enumerate(self._flights):
            place = self._fly(x, k, each.time_s)
            shown, width = self._show(x, place)
            off.append((shown - each.centre_px) / PLACE_SD_PX)
            wide.append(np.log(width / each.diameter_px) / WIDTH_SD)
        return np.concatenate(off), np.concatenate(wide)

    def _show(self, x: Floats, place: Floats) -> tuple[Floats, Floats]:
        away = np.maximum(place[:, 2:], 1e-3)
        focal_px = self._focal_px * np.exp(x[LENS])
        ray = place[:, :2] / away
        ray = ray * (1 + x[BARREL] * np.sum(ray**2, axis=1, keepdims=True))
        centre = self._centre_px + self._longer * x[MIDDLE] + focal_px * ray
        return centre, np.exp(x[WIDER]) * focal_px / away[:, 0]

    def _doubts(self, x: Floats) -> Floats:
        known = self._known
        doubts = [
            x[LENS] / LENS_SD, *(x[MIDDLE] / MIDDLE_SD), x[BARREL] / BARREL_SD, x[WIDER] / LOOKS_WIDER_SD,
            (x[BALL] - np.log(known.ball_m)) / known.ball_sd, (x[DRAG] - np.log(known.drag_pm)) / DRAG_SD,
        ]  # fmt: skip
        if known.drop is not None:
            top_s, floor_s, metres = known.drop
            ends = self._fly(x, 0, np.array([top_s, floor_s]))
            fallen = np.exp(x[BALL]) * float(np.linalg.norm(ends[1] - ends[0]))
            doubts.append(np.log(fallen / metres) / known.drop_sd)
        return np.array(doubts)

    def _fly(self, x: Floats, k: int, time_s: Floats) -> Floats:
        """(n, 3) places of a flight at times of the file, in the ball's diameters; drag to its first order."""
        own = x[SHARED + OF_FLIGHT * k : SHARED + OF_FLIGHT * (k + 1)]
        pull = x[list(PULL)]
        times = (time_s - self._middle_s[k]) * self._known.second_s
        grid = np.linspace(min(float(times.min()), -1e-3), max(float(times.max()), 1e-3), GRID)
        velocity = own[3:] + pull * grid[:, None]
        slowed = -np.exp(x[DRAG] + x[BALL]) * np.linalg.norm(velocity, axis=1)[:, None] * velocity
        beside = _summed(_summed(slowed, grid), grid)
        moved = np.stack([np.interp(times, grid, beside[:, axis]) for axis in range(3)], axis=1)
        return np.asarray(own[:3] + own[3:] * times[:, None] + 0.5 * pull * times[:, None] ** 2 + moved)


def _summed(rate: Floats, grid: Floats) -> Floats:
    """(n, 3) integral over time, nothing at time 0."""
    steps = 0.5 * (rate[1:] + rate[:-1]) * np.diff(grid)[:, None]
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(steps, axis=0)])
    return np.asarray(total - np.array([np.interp(0.0, grid, total[:, axis]) for axis in range(3)]))
