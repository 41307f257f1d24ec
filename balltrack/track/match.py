"""The disc, its shade, motion and lens that best make a patch of picture from the empty field.

The picture minus the empty field is modelled as ``alpha * (ball + shade - field)``, where alpha is the share of the
exposure for which the ball covers a cell and the field behind it is known. Brightness and both colours are matched
together: where a ball's shaded side is as bright as the grass behind it, its colour still shows it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.track.explained import (
    SITE,
    Cells,
    Grid,
    Held,
    Light,
    cells_of,
    errors_of,
    explain,
    glimpsed,
    improve,
    judge,
    misfit_of,
    stepped,
)
from balltrack.track.patch import Patch
from balltrack.track.shade import LikelyShade, turned
from balltrack.track.spectra import TERMS
from balltrack.track.sweep import Sampling, Sweep, canvas
from balltrack.units import Floats

Image = NDArray[np.float32]
U, V, WIDTH, STREAK, TURN, LENS = range(SITE)
"""A pose: centre u, v in the patch [px], log width [px], log streak [px], direction of motion [rad], log blur [px], and
by how much the colours are stored further right than thought [px]."""

LARGEST_STEP = np.array([2.0, 2.0, 0.2, 0.3, 0.1, 0.3, 0.3])
MISFIT = 20.0  # noise up to which likely shade is held to: more is shade that nobody thought of


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


class Matcher:
    """A patch ready to be matched: cells that matter, and how colours are taken from cells."""

    def __init__(self, patch: Patch, pose: Floats, margin_px: float) -> None:
        self.patch = patch
        self._canvas, self._rough = canvas(patch.size), canvas(patch.size, finer=False)
        near, step = _near(patch, pose, margin_px), patch.colour_step
        self.grid = Grid(*patch.size, step, float(patch.pitch), np.argwhere(near), np.argwhere(near[::step, ::step]))
        luma = np.stack([patch.luma, patch.luma_field, patch.luma_sd])
        colours = np.stack([patch.colour, patch.colour_field, patch.colour_sd], axis=1)
        self.cells = Cells(cells_of(luma, self.grid.luma), np.stack([cells_of(c, self.grid.colours) for c in colours]))
        for each in (self.cells.luma[2], self.cells.colours[:, 2]):
            each[:] = 1.0 / each**2

    def terms(self, pose: Floats) -> tuple[Image, Image]:
        """Pictures of the terms of light as brightness shows them (9, h, w) and as colours do (9, h', w')."""
        return self._canvas.terms(sweep_of(self.patch, pose), self._colours_at(pose))

    def slopes(self, pose: Floats, light: Floats) -> tuple[Image, Image]:
        """Pictures of the slopes with the pose of brightness and cover (6 x 2, h, w) and of colours and cover (6 x 3,
        h', w'), lit by light (3, 9)."""
        solved = np.concatenate([light, np.eye(1, TERMS)])
        return self._rough.slopes(sweep_of(self.patch, pose), solved, self._colours_at(pose))

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
    cells = matcher.cells
    terms, lit = explain(*matcher.terms(pose), cells, matcher.grid, _held(prior), float(pose[TURN]), np.ones(3))
    return misfit_of(cells, errors_of(terms, cells, lit.light))


def refine(matcher: Matcher, start: Floats, prior: Prior, effort: Effort) -> Match:
    """Gauss-Newton over the pose, with the light of the ball solved for at each step."""
    pose, noise, held = start.copy(), np.full(3, 2.0), _held(prior)
    cells, grid = matcher.cells, matcher.grid
    for _ in range(effort.rounds):
        at, believed = pose, np.minimum(noise, MISFIT)
        terms, lit = explain(*matcher.terms(at), cells, grid, held, float(at[TURN]), believed)
        errors = judge(terms, cells, lit.light, noise, float(grid.step**2))
        pictures = matcher.slopes(at, lit.light)
        slopes, told, pull, noise = improve(*pictures, terms, cells, grid, lit, errors, believed)
        step, covariance = stepped(at, held, told, pull)
        step = np.clip(step, -LARGEST_STEP, LARGEST_STEP)
        if np.all(np.abs(step) < effort.settled * np.sqrt(np.diag(covariance))):
            break
        pose = at + step
    told = glimpsed(terms, slopes, errors, prior.precision)
    return Match(at, np.asarray(covariance), errors.share, errors.strength, _glimpse(told, lit, float(at[TURN])))


def _held(prior: Prior) -> Held:
    return Held(prior.shade.mean, prior.shade.precision, prior.mean, prior.precision)


def _glimpse(told: Floats, lit: Light, turn: float) -> Glimpse:
    """What brightness tells of the light, without the likely."""
    axes, light = turned(turn), lit.light[0]
    return Glimpse(axes.T @ told @ axes, axes.T @ (told @ light + lit.pulled), float(light[0]))
