"""The disc, its shade, motion and lens that best make a patch of picture from the empty field.

The picture minus the empty field is modelled as ``alpha * (ball + shade - field)``, where alpha is the share of the
exposure for which the ball covers a cell and the field behind it is known. Brightness and both colours are matched
together: where a ball's shaded side is as bright as the grass behind it, its colour still shows it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.track.patch import Patch
from balltrack.track.shade import TERMS, LikelyShade, turned
from balltrack.track.sweep import Sampling, Sweep, SweptLight, canvas
from balltrack.units import Floats

Image = NDArray[np.float32]
U, V, WIDTH, STREAK, TURN, LENS, SITE = range(7)
"""A pose: centre u, v in the patch [px], log width [px], log streak [px], direction of motion [rad], log blur [px], and
by how much the colours are stored further right than thought [px]."""

CELL = Sampling()
LARGEST_STEP = np.array([2.0, 2.0, 0.2, 0.3, 0.1, 0.3, 0.3])
UNMODELLED = 0.5  # of the ball's contrast
MISFIT = 20.0  # noise up to which likely shade is held to: more is shade that nobody thought of
STRAY = 15.0  # noise beyond which a pixel shows another thing
QUIET_PIXELS = 8.0  # as many tell beforehand how large the noise is
MOST_ALIKE = 12.0  # pixels that err as one
COLOUR_OF_LIGHT = 0.1  # of the ball's light: how sun and sky differ in colour (judgement, no source)
INSIDE = 0.05  # share of a cell from which on it shows the ball


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
class _Channel:
    """One of brightness and two colours: what the patch shows, and the terms as it would show them."""

    target: Floats  # (n,) change + cover * field: the light of the ball itself
    terms: Floats  # (9, n)
    weight: Floats  # (n,) one over the variance of the noise

    @property
    def weighted(self) -> Floats:
        """(9, n)"""
        return np.asarray(self.terms * self.weight)


@dataclass(frozen=True, slots=True, eq=False)
class _Light:
    """The light of the ball that explains all channels best at one pose."""

    channels: list[_Channel]
    gram: Floats  # (27, 27)
    held: Floats  # (27, 27) the same, with what is likely of shade
    light: Floats  # (3, 9)
    pulled: Floats  # (9,) which way the picture alone would have the light of brightness

    def errors(self) -> list[Floats]:
        """What is left unexplained, channel by channel."""
        return [each.target - light @ each.terms for each, light in zip(self.channels, self.light, strict=True)]


class Matcher:
    """A patch ready to be matched: cells that matter, and how colours are taken from cells."""

    def __init__(self, patch: Patch, pose: Floats, margin_px: float) -> None:
        self.patch = patch
        self.canvas, self.rough = canvas(patch.size), canvas(patch.size, finer=False)
        near = _near(patch, pose, margin_px)
        step = patch.colour_step
        self.mask = np.flatnonzero(near)
        self.colour_mask = np.flatnonzero(near[::step, ::step])
        self.changes = self._three(patch.luma, patch.colour)
        self.fields = self._three(patch.luma_field, patch.colour_field)
        self.weights = [1.0 / sd**2 for sd in self._three(patch.luma_sd, patch.colour_sd)]

    def _three(self, luma: Image, colour: Image) -> list[Image]:
        return [luma.ravel()[self.mask], *colour.reshape(2, -1)[:, self.colour_mask]]

    def terms(self, pose: Floats) -> tuple[Image, Image]:
        """The terms as brightness shows them (9, n) and as colours do (9, n'), in the cells that matter."""
        spectra = SweptLight(self.canvas, sweep_of(self.patch, pose)).terms()
        bright = self.luma_of(self.canvas.sampled(spectra, CELL))
        return bright, self.colour_of(self.canvas.sampled(spectra, self._colours_at(pose)))

    def slopes(self, pose: Floats, light: Image) -> tuple[Image, Image]:
        """Slopes with the pose of pictures of given light: (6, 2, n) of brightness and cover, (6, 3, n') of colours and
        cover. Light is (4, 9): three channels, and the cover's."""
        spectra = SweptLight(self.rough, sweep_of(self.patch, pose)).slopes(light)
        shape = spectra.shape[2:]
        bright = self.luma_of(self.rough.sampled(spectra[:, ::3].reshape(12, *shape), CELL))
        colour = self.colour_of(self.rough.sampled(spectra[:, 1:].reshape(18, *shape), self._colours_at(pose)))
        return bright.reshape(6, 2, -1), colour.reshape(6, 3, -1)

    def _colours_at(self, pose: Floats) -> Sampling:
        stored = self.patch.colour_sampling
        return Sampling(stored.step, (stored.shift[0] + float(pose[SITE]) / self.patch.pitch, stored.shift[1]))

    def luma_of(self, images: Image) -> Image:
        """(k, n) cells that matter of (k, h, w)."""
        return images.reshape(len(images), -1)[:, self.mask]

    def colour_of(self, images: Image) -> Image:
        """(k, n') colour samples that matter of (k, h', w')."""
        return images.reshape(len(images), -1)[:, self.colour_mask]


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


def _lit(matcher: Matcher, pose: Floats, noise: Floats, shade: LikelyShade) -> _Light:
    bright, colours = matcher.terms(pose)
    channels = []
    for c, parts in enumerate((bright, colours, colours)):
        flat = parts.astype(np.float64)
        target = matcher.changes[c] + flat[0] * matcher.fields[c]
        channels.append(_Channel(target, flat, matcher.weights[c] / noise[c]))
    gram, right = np.zeros((3, TERMS, 3, TERMS)), np.zeros((3, TERMS))
    mean = np.zeros(3)
    for c, channel in enumerate(channels):
        weighted = channel.weighted
        gram[c, :, c], right[c] = weighted @ channel.terms.T, weighted @ channel.target
        mean[c] = right[c, 0] / max(gram[c, 0, c, 0], 1e-9)
    # Light shades all colours alike, but for sun and sky being of different colours.
    alike = np.outer(mean, mean) + ((COLOUR_OF_LIGHT * mean[0]) ** 2 + 1.0) * np.eye(3)
    apart = np.linalg.inv(alike)
    likely, precision = shade.along(float(pose[TURN]))
    likely_pull = np.outer(apart @ mean, precision @ likely)
    right[:, 1:] += likely_pull
    held = gram.copy()
    held[:, 1:, :, 1:] += np.einsum("cd,kl->ckdl", apart, precision)
    square = 3 * TERMS, 3 * TERMS
    held = held.reshape(square) + 1e-9 * np.eye(3 * TERMS)
    light = np.linalg.solve(held, right.ravel()).reshape(3, TERMS)
    gram = gram.reshape(square)
    pulled = ((held - gram) @ light.ravel())[:TERMS]
    pulled[1:] -= likely_pull[0]
    return _Light(channels, np.asarray(gram), np.asarray(held), np.asarray(light), np.asarray(pulled))


def misfit(matcher: Matcher, pose: Floats, shade: LikelyShade) -> float:
    """What the best ball at a pose leaves unexplained."""
    lit = _lit(matcher, pose, np.ones(3), shade)
    errors = zip(lit.errors(), matcher.weights, strict=True)
    return float(sum(np.minimum(error * error * weight, STRAY**2).sum() for error, weight in errors))


def refine(matcher: Matcher, start: Floats, prior: Prior, effort: Effort) -> Match:
    """Gauss-Newton over the pose, with the light of the ball solved for at each step."""
    pose = start.copy()
    noise = np.full(3, 2.0)
    for _ in range(effort.rounds):
        at = pose
        lit = _lit(matcher, at, np.minimum(noise, MISFIT), prior.shade)
        errors = lit.errors()
        share, strength = _explained(matcher, lit.channels, errors)
        trust = [_trust(matcher, c, error, strength) / noise[c] for c, error in enumerate(errors)]
        slopes = _slopes(matcher, at, lit.light)
        told, pull = _told(lit, slopes, trust, errors)
        noise = _noise(matcher, lit, errors)
        covariance = np.linalg.inv(told + np.diag(prior.precision))
        step = covariance @ (pull + prior.precision * (prior.mean - at))
        step = np.clip(step, -LARGEST_STEP, LARGEST_STEP)
        if np.all(np.abs(step) < effort.settled * np.sqrt(np.diag(covariance))):
            break
        pose = at + step
    return Match(at, np.asarray(covariance), share, strength, _glimpse(lit, slopes, trust, prior.precision, at[TURN]))


def _glimpse(lit: _Light, slopes: list[Floats], trust: list[Floats], precision: Floats, turn: float) -> Glimpse:
    """What brightness tells of the light, less what a change of pose would show as well, and without the likely."""
    terms = lit.channels[0].terms
    weighted = terms * trust[0]
    cross = weighted @ slopes[0].T
    pose = sum((slope * weight) @ slope.T for slope, weight in zip(slopes, trust, strict=True)) + np.diag(precision)
    told = weighted @ terms.T - cross @ np.linalg.solve(pose, cross.T)
    light = lit.light[0]
    axes = turned(float(turn))
    return Glimpse(axes.T @ told @ axes, axes.T @ (told @ light + lit.pulled), float(light[0]))


def _trust(matcher: Matcher, c: int, error: Floats, strength: float) -> Floats:
    """(n,) weights of a channel's cells, less for those that show another thing."""
    size = error * np.sqrt(matcher.weights[c])
    # Where the ball stands out strongly, its seams and edges miss by more than noise without being another thing.
    limit = 4.0 * max(1.0, 1.4826 * _median(np.abs(size))) + UNMODELLED * strength
    return np.asarray(matcher.weights[c] / (1.0 + (size / limit) ** 2))


def _median(values: Floats) -> float:
    """Of (n,) values; of an even number, the upper of the middle two. Several times faster than numpy's own."""
    return float(np.partition(values, len(values) // 2)[len(values) // 2])


def _told(lit: _Light, slopes: list[Floats], trust: list[Floats], errors: list[Floats]) -> tuple[Floats, Floats]:
    """What the picture tells of the pose, (7, 7), and which way it pulls, (7,), with the light following the pose.

    The pull is that of the light as it is, for its change costs nothing where it is best (envelope theorem).
    """
    follows = _follows(lit, slopes)
    told = np.asarray(follows.T @ (lit.held - lit.gram) @ follows)
    pull = np.zeros(len(told))
    for c, follow in enumerate(follows.reshape(3, TERMS, -1)):
        free = slopes[c] - follow.T @ lit.channels[c].terms
        told = told + (free * trust[c]) @ free.T
        pull = pull + slopes[c] @ (trust[c] * errors[c])
    return told, pull


def _follows(lit: _Light, slopes: list[Floats]) -> Floats:
    """(27, 7) how the light that explains best changes with the pose.

    What a change of light does as well tells nothing of the pose: else a shade that follows the centre would steal its
    information.
    """
    cross = [channel.weighted @ slope.T for channel, slope in zip(lit.channels, slopes, strict=True)]
    return np.asarray(np.linalg.solve(lit.held, np.concatenate(cross)))


def _noise(matcher: Matcher, lit: _Light, errors: list[Floats]) -> Floats:
    """(3,) by how much the errors' variance exceeds the noise's, as if each cell erred alone."""
    freedom = np.diag(np.linalg.solve(lit.held, lit.gram)).reshape(3, TERMS).sum(axis=1)
    out = np.empty(3)
    for c, (channel, error) in enumerate(zip(lit.channels, errors, strict=True)):
        inside = channel.terms[0] > INSIDE
        size = (error * np.sqrt(matcher.weights[c]))[inside]
        left = max(len(size) - float(freedom[c]), 1.0)
        variance = (QUIET_PIXELS + float(size @ size)) / (QUIET_PIXELS + left)
        out[c] = variance * _alike(matcher, c, inside, size)
    return out


def _alike(matcher: Matcher, c: int, inside: NDArray[np.bool_], size: Floats) -> float:
    """How many cells err as one, from how alike neighbours' errors are."""
    step = matcher.patch.colour_step if c else 1
    image = np.zeros((matcher.patch.size[0] // step, matcher.patch.size[1] // step))
    image.ravel()[(matcher.colour_mask if c else matcher.mask)[inside]] = size
    total, alike = float(size @ size) + 1e-9, 1.0
    for a, b in ((image[1:], image[:-1]), (image[:, 1:], image[:, :-1])):
        likeness = float(np.clip((a * b).sum() / total, 0.0, 0.9))
        alike *= (1 + likeness) / (1 - likeness)
    return float(min(alike, MOST_ALIKE))


def _explained(matcher: Matcher, channels: list[_Channel], errors: list[Floats]) -> tuple[float, float]:
    """Share of the change that the ball explains, and its root mean square change over the noise."""
    left = total = strength = 0.0
    for c, (channel, error) in enumerate(zip(channels, errors, strict=True)):
        inside = channel.terms[0] > INSIDE
        area = matcher.patch.colour_step**2 if c else 1
        weight = area * matcher.weights[c][inside]
        left += float((error[inside] ** 2 * weight).sum())
        total += float((matcher.changes[c][inside] ** 2 * weight).sum())
        cover = channel.terms[0]
        model = matcher.changes[c] - error
        strength += float((cover * model**2 * matcher.weights[c]).sum() / max(cover.sum(), 1e-6))
    return 1.0 - left / max(total, 1e-9), float(np.sqrt(strength))


def _slopes(matcher: Matcher, pose: Floats, solved: Floats) -> list[Floats]:
    """(6, n) change of the picture with the pose, in each channel, with the ball's light as it is."""
    light = np.concatenate([solved, np.eye(1, solved.shape[1])]).astype(np.float32)
    bright, colour = matcher.slopes(pose, light)
    parts = [bright[:, 0] - bright[:, 1] * matcher.fields[0]]
    parts += [colour[:, c] - colour[:, 2] * matcher.fields[c + 1] for c in (0, 1)]
    slopes = []
    for c, part in enumerate(parts):
        slope = np.concatenate([part, -part[:1] if c else np.zeros_like(part[:1])]).astype(np.float64)
        slope[[U, V, SITE]] /= matcher.patch.pitch
        slopes.append(slope)
    return slopes
