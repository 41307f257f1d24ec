"""Sub-pixel centre and diameter of a blurred ball: a disc swept along its motion, matched to the picture.

The centre of the streak is the ball at mid-exposure. `match` holds the model of the picture; here a rough place is
found for it, and what came of it judged.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from balltrack.detect.background import Background
from balltrack.track.looks import LENS_BLUR_PX, Looks, any_looks
from balltrack.track.match import LENS, SITE, STREAK, TURN, WIDTH, Match, Matcher, Prior, misfit, refine
from balltrack.track.outline import another_thing
from balltrack.track.patch import Patch, patch_at
from balltrack.track.sweep import CELL, SHORTEST_STREAK_PX, Sweep, canvas
from balltrack.units import Floats
from balltrack.video.frames import Frame

LEAST_SIGNAL = 3.0  # of the ball's change over the noise
LEAST_MATCH = 0.35  # share of the patch's change that the ball must explain
WIDTH_LOG_SD = 0.2  # how far the expected diameter may be off, beyond which it is another thing
STREAK_LOG_SD = 0.35
TURN_SD_RAD = 0.05  # of the motion's direction: the flight so far tells it well
FREE_PX = 100.0  # the place is held no closer than this
# Large balls and long streaks are looked at in larger cells, for their place is told by many: sides of the picture, as
# long as the ball stays as wide.
COARSE_CELLS, FINE_CELLS = (24.0, 4.0), (40.0, 5.0)
MOST_HIDDEN = 0.12  # share of the outline
MATCH_BESIDE = 0.9  # share of the change to be explained where another thing stands beside the ball
# What no model of a ball in a phone's picture undercuts (seams, night side, compression, a limb behind it): in pixels,
# in diameters, and in diameters where nothing of the change is explained (judgement from rendered clips, no source).
FLOOR_PX, FLOOR_WIDTHS, FLOOR_UNEXPLAINED = 0.06, 0.005, 0.2
# A ball no wider, or one that is being followed, is matched where it should be. If so much is explained, or little less
# than usually, that is it.
AT_ONCE_PX, AT_ONCE, LESS = 14.0, 0.9, 0.15
AT_ONCE_SLACK_PX, AT_ONCE_SLACK_WIDTHS = 1.5, 0.1  # and if it lies no further from there
SURE = 0.8  # share of the change explained at first sight with which no other place is tried
EIGHTHS = np.arange(8) * np.pi / 4
MARGIN_PX = 3.0  # beside the ball that is matched too, for there is nothing but field
HALVES_CELLS = 7.0  # smaller balls have no halves to settle on


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
    sight: "Sight"


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What the ball was found in, and as what, to look again."""

    patch: Patch
    expected: Expected
    fit: Match


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
    image = first_sight(frame, background, expected)
    return None if image is None else look_again(image, any_looks())


def first_sight(
    frame: Frame, background: Background, expected: Expected, usual: float | None = None
) -> BallImage | None:
    """The same to a few tenths of a pixel, to be looked at again: enough to lead on, and to tell the light.

    ``usual``: share of the change that the ball explained in the last of its pictures, where it is being followed.
    """
    streak = float(np.hypot(*expected.streak_px))
    half = 0.5 * expected.width_px + 0.5 * streak + expected.search_px + 4
    patch = patch_at(frame, background, expected.centre_px, half)
    if patch is None:
        return None
    coarse, fine = (patch.coarser(_pitch(expected, *cells)) for cells in (COARSE_CELLS, FINE_CELLS))
    tried: list[BallImage] = []
    if usual is not None:
        tried.append(_where_it_should_be(fine, expected))
        if _is_it(tried[0], min(usual - LESS, AT_ONCE)):
            return tried[0]
    place = _best_cell(coarse, expected)
    if place is None:
        return None
    off_px = float(np.linalg.norm(place + patch.corner_px - expected.centre_px))
    if usual is None and expected.width_px < AT_ONCE_PX and off_px < _near_px(expected):
        tried.append(_where_it_should_be(fine, expected))
        if _is_it(tried[0], AT_ONCE):
            return tried[0]
    tried.append(_wherever_it_is(coarse, fine, expected, place))
    return max(tried, key=lambda each: (not each.reason, each.match))


def _wherever_it_is(coarse: Patch, fine: Patch, expected: Expected, place: Floats) -> BallImage:
    """The ball about the expected place, and about the one that looks likeliest. [px in the patch]"""
    pose = _expected_pose(expected, fine)
    prior = _prior(pose, any_looks())
    rough = _best(coarse, [pose, np.array([*place, *pose[2:]])], prior)
    if rough.share < SURE and expected.width_px / coarse.pitch > HALVES_CELLS:
        # A ball half brighter and half darker than the field draws the search to one half: others about it are tried.
        ring = 0.25 * expected.width_px * np.stack([np.cos(EIGHTHS), np.sin(EIGHTHS)], axis=1)
        others = _best(coarse, [np.array([*(place + shift), *pose[2:]]) for shift in ring], prior)
        rough = max(rough, others, key=lambda each: each.share)
    image = _image(Sight(coarse, expected, rough))
    if rough.share >= AT_ONCE and not image.reason:
        return replace(image, sight=Sight(fine, expected, rough))
    return _image(Sight(fine, expected, _refined(fine, rough.pose, prior)))


def _where_it_should_be(patch: Patch, expected: Expected) -> BallImage:
    pose = _expected_pose(expected, patch)
    return _image(Sight(patch, expected, _refined(patch, pose, _prior(pose, any_looks()))))


def _is_it(image: BallImage, share: float) -> bool:
    """Whether it is surely the ball: it explains so much, and is near where it should be."""
    off_px = float(np.linalg.norm(image.centre_px - image.sight.expected.centre_px))
    return not image.reason and image.match >= share and off_px < _near_px(image.sight.expected)


def _near_px(expected: Expected) -> float:
    return AT_ONCE_SLACK_PX + AT_ONCE_SLACK_WIDTHS * expected.width_px


def look_again(image: BallImage, looks: Looks) -> BallImage:
    """Match a found ball anew, with what other pictures of it told of its looks."""
    sight = image.sight
    prior = _prior(_expected_pose(sight.expected, sight.patch), looks)
    start = np.array([*sight.fit.pose[:LENS], *looks.lens_and_site])
    return _image(replace(sight, fit=_refined(sight.patch, start, prior)))


def _best(patch: Patch, starts: list[Floats], prior: Prior) -> Match:
    """Refine from the likeliest of several poses."""
    whole = Matcher(patch, starts[0], np.inf)
    return _refined(patch, min(starts, key=lambda each: misfit(whole, each, prior)), prior)


def _pitch(expected: Expected, most_cells: float, narrowest_cells: float) -> int:
    """Pixels a side of the cells in which the streak is no longer than so many, unless the ball got too narrow."""
    extent = expected.width_px + float(np.hypot(*expected.streak_px))
    pitch = 1
    while extent > most_cells * pitch and expected.width_px >= 2 * pitch * narrowest_cells and pitch < 16:
        pitch *= 2
    return pitch


def _expected_pose(expected: Expected, patch: Patch) -> Floats:
    streak = expected.streak_px
    length = max(float(np.hypot(*streak)), SHORTEST_STREAK_PX)
    turn = float(np.arctan2(streak[1], streak[0]))
    place = expected.centre_px - patch.corner_px
    return np.array([*place, np.log(expected.width_px), np.log(length), turn, np.log(LENS_BLUR_PX), 0.0])


def _prior(pose: Floats, looks: Looks) -> Prior:
    mean, sd = pose.copy(), np.array([FREE_PX, FREE_PX, WIDTH_LOG_SD, STREAK_LOG_SD, TURN_SD_RAD, 1.0, 1.0])
    mean[[LENS, SITE]], sd[[LENS, SITE]] = looks.lens_and_site, looks.lens_and_site_sd
    return Prior(mean, 1 / sd**2, looks.shade)


def _refined(patch: Patch, pose: Floats, prior: Prior) -> Match:
    """Refine on the part of the patch that the ball can be seen in."""
    margin = MARGIN_PX + patch.pitch
    half = 0.5 * float(np.exp(pose[WIDTH])) + 0.5 * float(np.exp(pose[STREAK])) + margin + 2 * patch.pitch
    part, place = patch.around(pose[:2], half)
    shift = np.concatenate([pose[:2] - place, np.zeros(5)])
    held = replace(prior, mean=prior.mean - shift)
    found = refine(Matcher(part, pose - shift, margin), pose - shift, held)
    return replace(found, pose=found.pose + shift)


def _best_cell(patch: Patch, expected: Expected) -> Floats | None:
    """Place where the swept disc explains most of the change, judged against its surroundings. [px in the patch]"""
    pose = _expected_pose(expected, patch)
    streak, width = np.exp(pose[[STREAK, WIDTH]]) / patch.pitch
    reach = int(np.ceil(0.5 * width + 0.5 * streak + 1.5))
    side = 2 * reach + 1
    height, wide = patch.size
    if side >= min(height, wide):
        return pose[:2]
    sweep = Sweep((reach, reach), float(0.5 * width), float(streak), float(pose[TURN]), LENS_BLUR_PX / patch.pitch)
    disc = np.ascontiguousarray(canvas((side, side)).terms(sweep, CELL)[0][:side, :side, 0])
    box = np.ones_like(disc)
    places = height - 2 * reach, wide - 2 * reach
    explained, energy = np.zeros(places, np.float32), np.full(places, float(disc.size), np.float32)
    colours = patch.colour / patch.colour_sd
    for change in (patch.luma / patch.luma_sd, *colours.repeat(patch.colour_step, 1).repeat(patch.colour_step, 2)):
        explained += cv2.matchTemplate(change, disc, cv2.TM_CCORR) ** 2 / np.float32((disc**2).sum())
        energy += cv2.matchTemplate(change**2, box, cv2.TM_CCORR)
    cells = np.stack(np.meshgrid(np.arange(reach, wide - reach), np.arange(reach, height - reach)))
    away = patch.pitch * (cells - patch.cells(pose[:2])[:, None, None])
    near = np.exp(-0.5 * (away**2).sum(axis=0) / max(expected.search_px, 1.0) ** 2)
    score = explained**2 / energy * near
    best = np.unravel_index(int(np.argmax(score)), score.shape)
    if explained[best] < LEAST_SIGNAL**2:
        return None
    return np.asarray(patch.pitch * (cells[:, best[0], best[1]] + 0.5) - 0.5)


def _image(sight: Sight) -> BallImage:
    fit, patch, expected = sight.fit, sight.patch, sight.expected
    centre = fit.pose[:2] + patch.corner_px
    diameter = float(np.exp(fit.pose[WIDTH]))
    off = float(np.linalg.norm(centre - expected.centre_px))
    change = abs(float(np.log(diameter / expected.width_px)))
    streak = float(np.exp(fit.pose[STREAK]))
    floor = FLOOR_PX + FLOOR_WIDTHS * diameter + FLOOR_UNEXPLAINED * diameter * (1.0 - fit.share)
    covariance = fit.covariance[:2, :2] + floor**2 * np.eye(2)
    # Either edge errs as the centre does.
    width_sd = float(np.hypot(diameter * np.sqrt(fit.covariance[WIDTH, WIDTH]), 2 * floor))
    reason = _why_not(fit, patch, expected, off, change)
    return BallImage(centre, covariance, diameter, width_sd, streak, fit.share, reason, sight)


def _why_not(fit: Match, patch: Patch, expected: Expected, off_px: float, change: float) -> str:
    """Why a match must not be used; empty where it may."""
    if fit.share < LEAST_MATCH or fit.glimpse.brightness <= 0.0:  # no ball takes light away
        return "hidden or mixed with something else"
    if fit.strength < LEAST_SIGNAL:
        return "too faint"
    if off_px > expected.search_px:
        return "not where it should be"
    if change > 2.5 * WIDTH_LOG_SD:
        return "not the ball's size"
    beside, hidden = another_thing(patch, fit.pose)
    if hidden > MOST_HIDDEN or (beside > MOST_HIDDEN and fit.share < MATCH_BESIDE):
        return "partly behind something"
    return ""
