"""The disc, its shade, motion and lens that best make a patch of picture from the empty field.

The picture minus the empty field is modelled as ``alpha * (ball + shade - field)``, where alpha is the share of the
exposure for which the ball covers a cell and the field behind it is known. Brightness and both colours are matched
together: where a ball's shaded side is as bright as the grass behind it, its colour still shows it.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
from numpy.typing import NDArray

from balltrack.track.explained import (
    CHANNELS,
    POSE,
    TERMS,
    Channels,
    Each,
    Lit,
    best_light,
    cells_of,
    left_over,
    light_told,
    near_places,
    next_step,
    slopes_at,
    tell,
    weighed_cells,
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
MISFIT = 20.0  # noise up to which likely shade is held to: more is shade that nobody thought of
# A match ends with a step no part of which is longer, in standard deviations: some hundredths of a pixel from where it
# would come to rest. One that stops short stays on the side it came from, and so do the flight's others.
SETTLED, MOST_ROUNDS = 0.5, 8
STEADY = 0.5  # standard deviations that a pose may change while slopes are taken to stay
COVER = np.eye(TERMS, 1)


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """What is known of a pose beforehand."""

    mean: Floats  # (7,)
    precision: Floats  # (7,)
    shade: LikelyShade


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
    """A patch ready to be matched: cells that matter in its channels, and how colours are taken from cells."""

    def __init__(self, patch: Patch, pose: Floats, margin_px: float) -> None:
        self.patch = patch
        self._canvas, self._rough = canvas(patch.size), canvas(patch.size, finer=False)
        step, sweep = patch.colour_step, sweep_of(patch, pose)
        reach = sweep.radius + margin_px / patch.pitch
        luma, colours = (near_places(patch.size, each, sweep.vector, reach) for each in (1, step))
        bright = weighed_cells(patch.luma, patch.luma_field, patch.luma_sd, luma)
        blue, red = (
            weighed_cells(*part, colours)
            for part in zip(patch.colour, patch.colour_field, patch.colour_sd, strict=True)
        )
        own, colour = patch.size, (patch.size[0] // step, patch.size[1] // step)
        self.channels = Channels(
            (bright, blue, red),
            (luma, colours, colours),
            np.array([own, colour, colour]),
            np.array([1.0, step**2, step**2]),
        )

    def lit(self, pose: Floats, shade: LikelyShade, noise: Floats) -> Lit:
        """The light that explains best at a pose, its noise so many times larger than thought, (3,)."""
        luma, colours = self._canvas.terms(sweep_of(self.patch, pose), self._colours_at(pose))
        show = cells_of(colours, self.channels.places[1])
        shows = cells_of(luma, self.channels.places[0]), show, show
        return best_light(shows, self.channels, noise, *shade.along(float(pose[TURN])))

    def slopes(self, pose: Floats, light: Floats) -> Each:
        """How the cells that matter change with the pose, lit by light (3, 9), channel by channel."""
        lit = np.concatenate([light.T, COVER], axis=1, dtype=np.float32)
        luma, colours = self._rough.slopes(sweep_of(self.patch, pose), lit, self._colours_at(pose))
        (bright, blue, red), places, pitch = self.channels.cells, self.channels.places, float(self.patch.pitch)
        return (
            slopes_at(luma, places[0], 0, bright[1], pitch),
            slopes_at(colours, places[1], 0, blue[1], pitch),
            slopes_at(colours, places[2], 1, red[1], pitch),
        )

    def _colours_at(self, pose: Floats) -> Sampling:
        stored = self.patch.colour_sampling
        return Sampling(stored.step, (stored.shift[0] + float(pose[SITE]) / self.patch.pitch, stored.shift[1]))


def sweep_of(patch: Patch, pose: Floats) -> Sweep:
    """A pose in cells."""
    (u, v), (width, streak, turn, lens, _) = patch.cells(pose[:2]).tolist(), pose[2:].tolist()
    return Sweep((u, v), 0.5 * exp(width) / patch.pitch, exp(streak) / patch.pitch, turn, exp(lens) / patch.pitch)


def misfit(matcher: Matcher, pose: Floats, prior: Prior) -> float:
    """What the best ball at a pose leaves unexplained."""
    return left_over(matcher.lit(pose, prior.shade, np.ones(CHANNELS)), matcher.channels)


def refine(matcher: Matcher, start: Floats, prior: Prior) -> Match:
    """Gauss-Newton over the pose, with the light of the ball solved for at each step.

    All that comes with the pose is of the one before the last step.
    """
    # Little noise to begin with: where more is thought, steps are short beside it, and end before the ball is reached.
    pose, noise, longest = start, np.full(CHANNELS, 2.0), np.inf
    for _ in range(MOST_ROUNDS):
        at, believed = pose, np.minimum(noise, MISFIT)
        lit = matcher.lit(at, prior.shade, believed)
        if longest > STEADY:
            slopes = matcher.slopes(at, lit.light)
        told = tell(lit, matcher.channels, slopes, noise, believed)
        noise = told.noise
        covariance, step, longest = next_step(told, prior.mean - at, prior.precision, LARGEST_STEP)
        pose = at + step
        if longest < SETTLED:
            break
    axes, (information, pull) = turned(float(at[TURN])), light_told(lit, told, slopes, prior.precision)
    glimpse = Glimpse(axes.T @ information @ axes, axes.T @ pull, float(lit.light[0, 0]))
    return Match(pose, covariance, told.share, told.strength, glimpse)
