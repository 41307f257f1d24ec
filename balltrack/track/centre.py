"""Sub-pixel centre and diameter of a blurred ball: a disc swept along its motion, matched to the picture.

The picture minus the empty field is modelled as ``alpha * (ball + shade - field)``, where alpha is the share of the
exposure for which the ball covers a pixel and the field behind it is known. The centre of the streak is the ball at
mid-exposure. Brightness and both colours are matched together: where a ball's shaded side is as bright as the grass
behind it, its colour still shows it.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, Bytes
from balltrack.track.sweep import SHORTEST_STREAK_PX, blurred, swept_disc
from balltrack.units import Floats
from balltrack.video.frames import Frame

COLOUR_BLUR_PX = 0.9  # of colour, beside the lens: half the resolution there and back
LENS_BLURS_PX = (0.4, 0.7)  # sigma: sharpened by the phone, or not; what the picture shows decides (no source)
SHADE_SHARE = 0.5  # of the strongest change in the patch, over a radius: how shade varies, one standard deviation
CHROMA_NOISE = 1.5  # standard deviation of a quiet pixel's colour in phone files, compression included
CHROMA_CORRELATION = 4.0  # colour is stored at half the resolution and compressed harder
CORRELATION = 2.0  # compression makes neighbouring errors alike: fewer independent pixels than there are
DISPLAY_GAMMA = 2.2  # of stored pictures, nearly: IEC 61966-2-1 (sRGB) and ITU-R BT.709 as displayed
WELL_SHOWN_PX = 16.0
UNMODELLED = 0.5  # of the ball's contrast
LEAST_SIGNAL = 3.0  # of the ball's change over the noise
LEAST_MATCH = 0.55  # share of the patch's change that the ball must explain
WIDTH_LOG_SD = 0.2  # how far the expected diameter may be off, beyond which it is another thing
ROUNDS = 12
REFINED_STARTS = 2
HALVES_PX = 9.0  # smaller balls have no halves to settle on
STRAY = 15.0  # noise beyond which a pixel shows another thing
KINDS = [0, 1, 1]  # channel to kind of blur: brightness, then both colours
LARGEST_PATCH_PX = 700


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Where and how the ball should appear in one frame."""

    centre_px: Floats  # (2,)
    width_px: float
    streak_px: Floats  # (2,) motion during the exposure
    search_px: float  # how far off it may be


@dataclass(frozen=True, slots=True, eq=False)
class BallImage:
    """The ball as found in one frame."""

    centre_px: Floats  # (2,)
    centre_cov_px2: Floats  # (2, 2)
    diameter_px: float
    diameter_sd_px: float
    streak_px: float  # length of the sweep
    match: float  # share of the change in the patch that it explains, 0 to 1
    reason: str  # why it must not be used; empty where it may


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    change: NDArray[np.float32]  # (3, h, w) picture minus empty field over its noise: brightness, both colours
    field: NDArray[np.float32]  # (3, h, w) the empty field in the same units
    corner: tuple[int, int]  # u, v of the top-left pixel
    lens_blur_px: float = LENS_BLURS_PX[1]

    @property
    def blurs_px(self) -> tuple[float, float]:
        """Sigma of brightness and of colour."""
        return self.lens_blur_px, float(np.hypot(self.lens_blur_px, COLOUR_BLUR_PX))

    @property
    def size(self) -> tuple[int, int]:
        return self.change.shape[1], self.change.shape[2]


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    shape: Floats  # (4,) u, v in the patch, log width, log streak
    covariance: Floats  # (4, 4)
    match: float
    strength: float  # of the ball's change over the noise


def find_ball(frame: Frame, background: Background, expected: Expected) -> BallImage | None:
    """Match a swept disc near the expected place.

    Parameters
    ----------
    frame : Frame
    background : Background
    expected : Expected

    Returns
    -------
    BallImage or None
        None where the expected place lies outside the picture or nothing there differs from the empty field.
    """
    patch = _patch(frame, background, expected)
    if patch is None:
        return None
    direction, streak = _direction(expected.streak_px)
    start = _coarse(patch, expected, direction, streak)
    if start is None:
        return None
    start_shape = np.array([*start, np.log(expected.width_px), np.log(streak)])
    fit = _best_fit(patch, start_shape, expected.centre_px - patch.corner, direction)
    return _image(fit, patch, expected)


def _light_of_luma() -> NDArray[np.float32]:
    """(256,) light behind each stored luma value, scaled so that noise keeps its size at middle grey.

    A shutter averages light, not stored values: without this a dark ball before the sky looks too small.
    """
    share = np.clip((np.arange(256) - 16.0) / 219.0, 0.0, None)
    middle = 0.5
    return np.asarray(219.0 * share**DISPLAY_GAMMA / (DISPLAY_GAMMA * middle ** (DISPLAY_GAMMA - 1)), dtype=np.float32)


LIGHT = _light_of_luma()


def _patch(frame: Frame, background: Background, expected: Expected) -> _Patch | None:
    height, width = frame.luma.shape
    half = 0.5 * expected.width_px + 0.5 * float(np.hypot(*expected.streak_px)) + expected.search_px + 4
    left, top = int(np.floor(expected.centre_px[0] - half)), int(np.floor(expected.centre_px[1] - half))
    right, bottom = int(np.ceil(expected.centre_px[0] + half)) + 1, int(np.ceil(expected.centre_px[1] + half)) + 1
    left, top, right, bottom = max(left, 0), max(top, 0), min(right, width), min(bottom, height)
    if right - left < 6 or bottom - top < 6 or max(right - left, bottom - top) > LARGEST_PATCH_PX:
        return None
    box = (left, top, right, bottom)
    noise = max(float(np.median(background.luma_noise[top:bottom, left:right])), 1.0)
    field = _channels((background.luma, background.cb, background.cr), box, noise)
    change = _channels((frame.luma, frame.cb, frame.cr), box, noise) - field
    return _Patch(change - np.median(change, axis=(1, 2), keepdims=True), field, (left, top))


def _channels(planes: tuple[Bytes, Bytes, Bytes], box: tuple[int, int, int, int], noise: float) -> NDArray[np.float32]:
    """(3, h, w) brightness and colours of a box at full resolution, over their noise."""
    left, top, right, bottom = box
    light = LIGHT[planes[0][top:bottom, left:right]]
    channels = [light / np.float32(noise)]
    # Colour samples sit between rows; along a row H.264 and HEVC put them on even columns, but many encoders average
    # pairs: a quarter of a column off is the least that either can be wrong by.
    u = ((np.arange(left, right, dtype=np.float32) - 0.25) / 2)[None].repeat(bottom - top, axis=0)
    v = ((np.arange(top, bottom, dtype=np.float32) - 0.5) / 2)[:, None].repeat(right - left, axis=1)
    low_u, low_v, high_u, high_v = left // 2, max(top // 2 - 1, 0), right // 2 + 2, bottom // 2 + 2
    for plane in planes[1:]:
        part = plane[low_v:high_v, low_u:high_u].astype(np.float32)
        full = cv2.remap(part, u - low_u, v - low_v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        channels.append(full / np.float32(CHROMA_NOISE * CHROMA_CORRELATION / CORRELATION))
    return np.asarray(np.stack(channels), dtype=np.float32)


def _direction(streak_px: Floats) -> tuple[Floats, float]:
    length = float(np.hypot(*streak_px))
    if length < SHORTEST_STREAK_PX:
        return np.array([1.0, 0.0]), SHORTEST_STREAK_PX
    return streak_px / length, length


def _coarse(patch: _Patch, expected: Expected, direction: Floats, streak: float) -> tuple[float, float] | None:
    """Best whole-pixel place: where the swept disc explains most of the change, judged against its surroundings."""
    reach = int(np.ceil(0.5 * expected.width_px + 0.5 * streak + 1.5))
    side = 2 * reach + 1
    height, width = patch.size
    if side >= min(height, width):
        return expected.centre_px[0] - patch.corner[0], expected.centre_px[1] - patch.corner[1]
    shape = np.array([reach, reach, np.log(expected.width_px), np.log(streak)])
    disc = blurred(swept_disc((side, side), shape, direction)[:1], LENS_BLURS_PX[1])[0]
    box = np.ones_like(disc)
    places = height - 2 * reach, width - 2 * reach
    explained, energy = np.zeros(places, np.float32), np.full(places, float(disc.size), np.float32)
    for change in patch.change:
        explained += cv2.matchTemplate(change, disc, cv2.TM_CCORR) ** 2 / np.float32((disc**2).sum())
        energy += cv2.matchTemplate(change**2, box, cv2.TM_CCORR)
    place_v, place_u = np.mgrid[reach : height - reach, reach : width - reach]
    off_u = place_u + patch.corner[0] - expected.centre_px[0]
    off_v = place_v + patch.corner[1] - expected.centre_px[1]
    near = np.exp(-0.5 * (off_u**2 + off_v**2) / max(expected.search_px, 1.0) ** 2)
    score = explained**2 / energy * near
    best_v, best_u = np.unravel_index(int(np.argmax(score)), score.shape)
    if explained[best_v, best_u] < LEAST_SIGNAL**2:
        return None
    return float(best_u + reach), float(best_v + reach)


def _best_fit(patch: _Patch, start: Floats, expected_px: Floats, direction: Floats) -> _Fit:
    """Refine from the likeliest of several starts.

    A ball half brighter and half darker than the field draws the whole-pixel search to one half: places around it and
    the expected one are judged by how much they would explain.
    """
    width = float(np.exp(start[2]))
    ring = np.arange(8) * np.pi / 4
    shifts = [np.zeros(2), *(0.25 * width * np.stack([np.cos(ring), np.sin(ring)], axis=1))]
    starts = [np.array([*(start[:2] + shift), *start[2:]]) for shift in shifts]
    starts = [np.array([*expected_px, *start[2:]]), *(starts if width > HALVES_PX else starts[:1])]
    costs = [_cost(patch, each, direction) for each in starts]
    best = np.argsort(costs)[:REFINED_STARTS].tolist()
    fit = max((_refine(patch, starts[k], direction) for k in best), key=lambda each: each.match)
    sharper = _refine(replace(patch, lens_blur_px=LENS_BLURS_PX[0]), fit.shape, direction)
    return max(fit, sharper, key=lambda each: each.match)


def _cost(patch: _Patch, shape: Floats, direction: Floats) -> float:
    terms, ridge = _basis(patch, shape, direction)
    error = patch.change - _model(patch, terms, _solve_linear(terms, ridge, patch))
    return float(np.minimum(error * error, STRAY**2).sum())


def _refine(patch: _Patch, shape: Floats, direction: Floats) -> _Fit:
    """Gauss-Newton over centre, width and streak, with amplitude and shade solved for at each step."""
    origin = shape.copy()
    prior = np.array([1e-4, 1e-4, 1 / WIDTH_LOG_SD**2, 1 / 0.35**2])  # the place within 100 px, so that it has one
    fit = _Fit(shape, np.eye(4), 0.0, 0.0)
    for _ in range(ROUNDS):
        terms, ridge = _basis(patch, shape, direction)
        solved = _solve_linear(terms, ridge, patch)
        model = _model(patch, terms, solved)
        residual = patch.change - model
        strength = _strength(terms, model)
        jacobian = _slopes(patch, shape, direction, solved, model)
        # The linear terms' share is projected out, else a shade that follows the centre would steal its information.
        flat = terms.reshape(2, len(ridge), -1).astype(np.float64)
        for channel, kind in enumerate(KINDS):
            gram = flat[kind] @ flat[kind].T + np.diag(ridge)
            jacobian[:, channel] -= (jacobian[:, channel] @ flat[kind].T) @ np.linalg.solve(gram, flat[kind])
        error = residual.reshape(3, -1).astype(np.float64)
        # Where the ball stands out strongly, its seams and edges miss by more than noise without being another thing.
        limit = 4.0 * np.maximum(1.0, 1.4826 * np.median(np.abs(error), axis=1, keepdims=True)) + UNMODELLED * strength
        robust = 1.0 / (CORRELATION**2 * (1.0 + (error / limit) ** 2))
        normal = np.einsum("pcn,cn,qcn->pq", jacobian, robust, jacobian, optimize=True) + np.diag(prior)
        covariance = np.linalg.inv(normal)
        step = covariance @ (np.einsum("pcn,cn->p", jacobian, robust * error) + prior * (origin - shape))
        inside = terms[0, 0] > 0.05
        left, total = float((residual[:, inside] ** 2).sum()), float((patch.change[:, inside] ** 2).sum())
        excess = max(1.0, left / max(3 * int(inside.sum()), 1))
        fit = _Fit(shape, covariance * excess, 1.0 - left / max(total, 1e-9), strength)
        if np.abs(step[:2]).max() < 0.02:
            break
        shape = shape + np.clip(step, [-2.0, -2.0, -0.2, -0.3], [2.0, 2.0, 0.2, 0.3])
    return fit


def _slopes(
    patch: _Patch, shape: Floats, direction: Floats, solved: Floats, model: NDArray[np.float32]
) -> NDArray[np.float64]:
    """(4, 3, n) change of the model with centre, width and streak."""
    slopes = np.empty((4, 3, model[0].size))
    for k, step in enumerate((0.1, 0.1, 0.02, 0.05)):
        moved = shape.copy()
        moved[k] += step
        slopes[k] = ((_shown(patch, moved, direction, solved) - model) / step).reshape(3, -1)
    return slopes


def _shown(patch: _Patch, shape: Floats, direction: Floats, solved: Floats) -> NDArray[np.float32]:
    """The same as `_model` of `_terms`, with fewer blurs: the blur of a sum is the sum of the blurs."""
    sharp = swept_disc(patch.size, shape, direction)
    seen = np.tensordot(solved.astype(np.float32), sharp, axes=1)
    cover = [blurred(sharp[:1], sigma)[0] for sigma in patch.blurs_px]
    shown = [
        blurred(seen[c : c + 1], patch.blurs_px[kind])[0] - cover[kind] * patch.field[c] for c, kind in enumerate(KINDS)
    ]
    return np.stack(shown)


def _terms(patch: _Patch, shape: Floats, direction: Floats) -> NDArray[np.float32]:
    """(2, 6, h, w) the swept disc and its shade as brightness shows them, and as colour does."""
    sharp = swept_disc(patch.size, shape, direction)
    return np.stack([blurred(sharp, sigma) for sigma in patch.blurs_px])


def _basis(patch: _Patch, shape: Floats, direction: Floats) -> tuple[NDArray[np.float32], Floats]:
    """The linear terms, and how firmly the shade is held to zero."""
    terms = _terms(patch, shape, direction)
    covered = terms[0, 0] > 0.3
    strongest = float(np.percentile(np.abs(patch.change[0])[covered], 90)) if covered.any() else 1.0
    held = (CORRELATION / max(SHADE_SHARE * strongest, 1.0)) ** 2
    # A ball of few pixels cannot show more than which side is lit: finer shade would only eat its edge.
    finer = 4.0 * held * max(1.0, WELL_SHOWN_PX / float(np.exp(shape[2]))) ** 4
    return terms, np.array([1e-9, held, held, finer, finer, finer])


def _solve_linear(terms: NDArray[np.float32], ridge: Floats, patch: _Patch) -> Floats:
    """(3, 6) colour of the ball and its shade in each channel."""
    solved = np.empty((3, len(ridge)))
    for channel, kind in enumerate(KINDS):
        flat = terms[kind].reshape(len(ridge), -1).astype(np.float64)
        target = (patch.change[channel] + terms[kind, 0] * patch.field[channel]).ravel().astype(np.float64)
        solved[channel] = np.linalg.solve(flat @ flat.T + np.diag(ridge), flat @ target)
    return solved


def _model(patch: _Patch, terms: NDArray[np.float32], solved: Floats) -> NDArray[np.float32]:
    """(3, h, w) the change that the ball makes: it shows itself and hides the field."""
    shown = [np.tensordot(solved[c].astype(np.float32), terms[kind], axes=1) for c, kind in enumerate(KINDS)]
    hidden = terms[KINDS, 0] * patch.field
    return np.asarray(np.stack(shown) - hidden, dtype=np.float32)


def _strength(terms: NDArray[np.float32], model: NDArray[np.float32]) -> float:
    """Root mean square change under the ball, over the noise."""
    weight = terms[0, 0] / max(float(terms[0, 0].sum()), 1e-6)
    return float(np.sqrt((weight * model**2).sum()))


def _image(fit: _Fit, patch: _Patch, expected: Expected) -> BallImage:
    centre = fit.shape[:2] + patch.corner
    diameter = float(np.exp(fit.shape[2]))
    off = float(np.linalg.norm(centre - expected.centre_px))
    change = abs(float(np.log(diameter / expected.width_px)))
    reason = ""
    if fit.match < LEAST_MATCH:
        reason = "hidden or mixed with something else"
    elif fit.strength < LEAST_SIGNAL:
        reason = "too faint"
    elif off > expected.search_px:
        reason = "not where it should be"
    elif change > 2.5 * WIDTH_LOG_SD:
        reason = "not the ball's size"
    # What no model of a ball in a phone's picture undercuts: seams, night side, compression, a limb behind it.
    streak = float(np.exp(fit.shape[3]))
    floor = 0.08 + 0.006 * diameter + 0.004 * streak + 0.3 * diameter * (1.0 - fit.match)
    covariance = fit.covariance[:2, :2] + floor**2 * np.eye(2)
    width_sd = float(np.hypot(diameter * np.hypot(np.sqrt(fit.covariance[2, 2]), 0.02), 0.1))
    return BallImage(centre, covariance, diameter, width_sd, streak, fit.match, reason)
