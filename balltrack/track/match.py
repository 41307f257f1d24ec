"""The disc, its shade, motion and lens that best make a patch of picture from the empty field.

The picture minus the empty field is modelled as ``alpha * (ball + shade - field)``, where alpha is the share of the
exposure for which the ball covers a cell and the field behind it is known. Brightness and both colours are matched
together: where a ball's shaded side is as bright as the grass behind it, its colour still shows it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.track.explained import (
    CHANNELS,
    POSE,
    TERMS,
    add_cross,
    add_normal,
    add_told,
    cells_of,
    err_alike,
    lay_slopes,
    miss,
)
from balltrack.track.patch import Patch
from balltrack.track.shade import LikelyShade, turned
from balltrack.track.sweep import Sampling, Sweep, canvas
from balltrack.units import Floats

Image = NDArray[np.float32]
U, V, WIDTH, STREAK, TURN, LENS, SITE = range(POSE)
"""A pose: centre u, v in the patch [px], log width [px], log streak [px], direction of motion [rad], log blur [px], and
by how much the colours are stored further right than thought [px]."""

LARGEST_STEP = np.array([2.0, 2.0, 0.2, 0.3, 0.1, 0.3, 0.3])
COLOUR_OF_LIGHT = 0.1  # of the ball's light: how sun and sky differ in colour (judgement, no source)
UNMODELLED = 0.5  # of the ball's contrast
QUIET_PIXELS = 8.0  # as many tell beforehand how large the noise is
MOST_ALIKE = 12.0  # pixels that err as one
MISFIT = 20.0  # noise up to which likely shade is held to: more is shade that nobody thought of
STEADY = 0.5  # standard deviations that a pose may change while slopes are taken to stay
COVER = np.eye(TERMS, 1)


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """What is known of a pose beforehand."""

    mean: Floats  # (7,)
    precision: Floats  # (7,)
    shade: LikelyShade


@dataclass(frozen=True, slots=True)
class Effort:
    """How far a match is taken."""

    rounds: int  # at most
    settled: float  # ended when no step is larger, in standard deviations


@dataclass(frozen=True, slots=True, eq=False)
class Glimpse:
    """What one picture tells of the light on the ball: weights of the shade terms in brightness, x to the right, as a
    normal distribution."""

    information: Floats  # (9, 9)
    pull: Floats  # (9,) information times the mean
    brightness: float  # the ball's mean light


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """A pose, how sure it is, and how well it explains the patch."""

    pose: Floats  # (7,)
    covariance: Floats  # (7, 7)
    share: float  # of the change where the ball is that it explains
    strength: float  # of the ball's change over the noise
    glimpse: Glimpse


@dataclass(frozen=True, slots=True, eq=False)
class _Lit:
    """The light of the ball that explains all channels best at one pose."""

    shows: list[Floats]  # (9, n) the terms in the cells of each channel
    gram: Floats  # (3, 9, 9)
    light: Floats  # (3, 9)
    spread: Floats  # (27, 27) its covariance
    pulled: Floats  # (9,) which way the picture alone would have the light of brightness


@dataclass(frozen=True, slots=True, eq=False)
class _Missed:
    """What is left unexplained."""

    errors: list[Floats]  # (n,)
    sizes: list[Floats]  # (n,) over the noise
    trusts: list[Floats]  # (n,) weights, less for cells that show another thing, over the variance found
    share: float  # of the change where the ball is that it explains
    strength: float  # of the ball's change over the noise


class Matcher:
    """A patch ready to be matched: cells that matter in its channels, and how colours are taken from cells."""

    def __init__(self, patch: Patch, pose: Floats, margin_px: float) -> None:
        self.patch = patch
        self._canvas, self._rough = canvas(patch.size), canvas(patch.size, finer=False)
        near, step = _near(patch, pose, margin_px), patch.colour_step
        luma, colours = np.argwhere(near), np.argwhere(near[::step, ::step])
        self.places = [luma, colours, colours]
        parts = [(patch.luma, patch.luma_field, patch.luma_sd)]
        parts += zip(patch.colour, patch.colour_field, patch.colour_sd, strict=True)
        self.cells = [cells_of(np.stack(part, axis=-1), place) for part, place in zip(parts, self.places, strict=True)]
        for each in self.cells:
            each[2] = 1.0 / each[2] ** 2

    def shows(self, pose: Floats) -> list[Floats]:
        """The terms of light in the cells that matter, channel by channel."""
        luma, colours = self._canvas.terms(sweep_of(self.patch, pose), self._colours_at(pose))
        show = cells_of(colours, self.places[1])
        return [cells_of(luma, self.places[0]), show, show]

    def slopes(self, pose: Floats, light: Floats) -> list[Floats]:
        """How the cells that matter change with the pose, lit by light (3, 9), channel by channel."""
        lit = np.concatenate([light.T, COVER], axis=1, dtype=np.float32)
        luma, colours = self._rough.slopes(sweep_of(self.patch, pose), lit, self._colours_at(pose))
        pictured = cells_of(luma, self.places[0]), cells_of(colours, self.places[1])
        out = [np.empty((POSE, cells.shape[1])) for cells in self.cells]
        for c, (slope, cells) in enumerate(zip(out, self.cells, strict=True)):
            step, channel = (3, c - 1) if c else (2, 0)
            lay_slopes(pictured[min(c, 1)], step, channel, cells[1], float(self.patch.pitch), slope)
        return out

    def _colours_at(self, pose: Floats) -> Sampling:
        stored = self.patch.colour_sampling
        return Sampling(stored.step, (stored.shift[0] + float(pose[SITE]) / self.patch.pitch, stored.shift[1]))


def sweep_of(patch: Patch, pose: Floats) -> Sweep:
    """A pose in cells."""
    u, v = patch.cells(pose[:2])
    width, streak, blur = np.exp(pose[[WIDTH, STREAK, LENS]]) / patch.pitch
    return Sweep((float(u), float(v)), float(0.5 * width), float(streak), float(pose[TURN]), float(blur))


def _near(patch: Patch, pose: Floats, margin_px: float) -> NDArray[np.bool_]:
    """(h, w) cells within a margin of the streak."""
    sweep = sweep_of(patch, pose)
    du = np.arange(patch.size[1])[None] - sweep.centre[0]
    dv = np.arange(patch.size[0])[:, None] - sweep.centre[1]
    along = du * np.cos(sweep.turn) + dv * np.sin(sweep.turn)
    beside = dv * np.cos(sweep.turn) - du * np.sin(sweep.turn)
    past = np.maximum(np.abs(along) - sweep.streak / 2, 0)
    return np.asarray(np.hypot(past, beside) < sweep.radius + margin_px / patch.pitch)


def misfit(matcher: Matcher, pose: Floats, prior: Prior) -> float:
    """What the best ball at a pose leaves unexplained."""
    lit = _lit(matcher, pose, prior.shade, np.ones(CHANNELS))
    total = 0.0
    for show, cells, light in zip(lit.shows, matcher.cells, lit.light, strict=True):
        total += miss(show, cells, light, np.empty(show.shape[1]), np.empty(show.shape[1]))[3]
    return total


def refine(matcher: Matcher, start: Floats, prior: Prior, effort: Effort) -> Match:
    """Gauss-Newton over the pose, with the light of the ball solved for at each step."""
    pose, noise, longest, slopes = start, np.full(CHANNELS, 2.0), np.inf, list[Floats]()
    for _ in range(effort.rounds):
        at, believed = pose, np.minimum(noise, MISFIT)
        lit = _lit(matcher, at, prior.shade, believed)
        missed = _missed(matcher, lit, noise)
        if longest > STEADY:
            slopes = matcher.slopes(at, lit.light)
        information, pull = _told(matcher, lit, missed, slopes, believed)
        noise = _noise(matcher, lit, missed)
        covariance = np.linalg.inv(information + np.diag(prior.precision))
        step = covariance @ (pull + prior.precision * (prior.mean - at))
        step = np.clip(step, -LARGEST_STEP, LARGEST_STEP)
        longest = float(np.max(np.abs(step) / np.sqrt(np.diag(covariance))))
        if longest < effort.settled:
            break
        pose = at + step
    glimpse = _glimpse(lit, missed, slopes, prior.precision, float(at[TURN]))
    return Match(at, np.asarray(covariance), missed.share, missed.strength, glimpse)


def _lit(matcher: Matcher, pose: Floats, shade: LikelyShade, noise: Floats) -> _Lit:
    shows = matcher.shows(pose)
    gram, right = np.empty((CHANNELS, TERMS, TERMS)), np.empty((CHANNELS, TERMS))
    for c, show in enumerate(shows):
        add_normal(show, matcher.cells[c], float(noise[c]), gram[c], right[c])
    light, spread = _solved(gram, right, *shade.along(float(pose[TURN])))
    return _Lit(shows, gram, light, spread, np.asarray(right[0] - gram[0] @ light[0]))


def _solved(gram: Floats, right: Floats, likely: Floats, precision: Floats) -> tuple[Floats, Floats]:
    """The light (3, 9) of all channels that explains best, and its covariance (27, 27).

    ``gram`` (3, 9, 9), ``right`` (3, 9): normal equations of each channel. ``likely`` (8,), ``precision`` (8, 8): of
    shade, x along the motion. Light shades all colours alike, but for sun and sky being of different colours.
    """
    mean = right[:, 0] / np.maximum(gram[:, 0, 0], 1e-9)
    alike = np.outer(mean, mean)
    alike.flat[:: CHANNELS + 1] += (COLOUR_OF_LIGHT * mean[0]) ** 2 + 1.0
    apart = np.linalg.inv(alike)
    held, pull = np.zeros((CHANNELS, TERMS, CHANNELS, TERMS)), right.copy()
    held[:, 1:, :, 1:] = apart[:, None, :, None] * precision[:, None]
    for c in range(CHANNELS):
        held[c, :, c] += gram[c]
    pull[:, 1:] += np.outer(apart @ mean, precision @ likely)
    flat = held.reshape(CHANNELS * TERMS, -1)
    flat.flat[:: len(flat) + 1] += 1e-9
    spread = np.linalg.inv(flat)
    return (spread @ pull.ravel()).reshape(CHANNELS, TERMS), np.asarray(spread)


def _missed(matcher: Matcher, lit: _Lit, noise: Floats) -> _Missed:
    errors, sizes = ([np.empty(show.shape[1]) for show in lit.shows] for _ in range(2))
    left = total = strength = 0.0
    for c, (show, cells) in enumerate(zip(lit.shows, matcher.cells, strict=True)):
        area = matcher.patch.colour_step**2 if c else 1
        unexplained, change, stands_out, _ = miss(show, cells, lit.light[c], errors[c], sizes[c])
        left, total, strength = left + area * unexplained, total + area * change, strength + stands_out
    strength = float(np.sqrt(strength))
    trusts = []
    for size, cells, excess in zip(sizes, matcher.cells, noise, strict=True):
        # Where the ball stands out strongly, its seams and edges miss by more than noise without being another thing.
        middle = float(np.partition(size, len(size) // 2)[len(size) // 2])
        limit = 4.0 * max(1.0, 1.4826 * middle) + UNMODELLED * strength
        trusts.append(cells[2] / ((1.0 + (size / limit) ** 2) * excess))
    return _Missed(errors, sizes, trusts, 1.0 - left / max(total, 1e-9), strength)


def _told(matcher: Matcher, lit: _Lit, missed: _Missed, slopes: list[Floats], noise: Floats) -> tuple[Floats, Floats]:
    """What the picture tells of the pose, (7, 7), and which way it pulls, (7,), with the light following the pose.

    The pull is that of the light as it is, for its change costs nothing where it is best (envelope theorem).
    """
    cross = np.empty((CHANNELS, TERMS, POSE))
    for c, slope in enumerate(slopes):
        add_cross(lit.shows[c], slope, matcher.cells[c][2] / noise[c], cross[c])
    flat = cross.reshape(-1, POSE)
    follows = lit.spread @ flat
    apart = follows.reshape(cross.shape)
    information = np.ascontiguousarray(follows.T @ (flat - (lit.gram @ apart).reshape(flat.shape)))
    pull = np.zeros(POSE)
    for c, slope in enumerate(slopes):
        add_told(slope, missed.trusts[c], lit.shows[c], apart[c], information)
        pull += slope @ (missed.trusts[c] * missed.errors[c])
    return information, pull


def _noise(matcher: Matcher, lit: _Lit, missed: _Missed) -> Floats:
    """(3,) by how much the errors' variance exceeds the noise's, as if each cell erred alone."""
    out = np.empty(CHANNELS)
    for c, show in enumerate(lit.shows):
        step, own = matcher.patch.colour_step if c else 1, slice(c * TERMS, (c + 1) * TERMS)
        picture = np.zeros((matcher.patch.size[0] // step, matcher.patch.size[1] // step))
        squares, alike, inside = err_alike(show, missed.sizes[c], missed.errors[c], matcher.places[c], picture)
        free = float((lit.spread[own, own] * lit.gram[c]).sum())
        out[c] = (QUIET_PIXELS + squares) / (QUIET_PIXELS + max(inside - free, 1.0)) * min(alike, MOST_ALIKE)
    return out


def _glimpse(lit: _Lit, missed: _Missed, slopes: list[Floats], precision: Floats, turn: float) -> Glimpse:
    """What brightness tells of the light, less what a change of pose would show as well, and without the likely."""
    weighted = lit.shows[0] * missed.trusts[0]
    cross = weighted @ slopes[0].T
    pose = np.diag(precision)
    for slope, trust in zip(slopes, missed.trusts, strict=True):
        pose = pose + (slope * trust) @ slope.T
    told = weighted @ lit.shows[0].T - cross @ np.linalg.solve(pose, cross.T)
    axes, light = turned(turn), lit.light[0]
    return Glimpse(axes.T @ told @ axes, axes.T @ (told @ light + lit.pulled), float(light[0]))
