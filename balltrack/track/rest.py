"""The ball at rest before contact: on a tee it shows, unblurred and in many frames, just where contact was."""

import itertools
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from balltrack.detect.background import Background, median_background
from balltrack.track.centre import BallImage, Expected, find_ball
from balltrack.track.patch import SMALLEST_PATCH_PX
from balltrack.units import Floats
from balltrack.video.frames import Frame, box_about

STILL_S = (-0.5, -0.06)  # before contact; the bat comes into the way only at the very end
FEWEST_FRAMES = 5
MOST_FRAMES = 15
MARGIN_PX = 16.0  # what is looked at beyond the search
SEARCH_WIDTHS = 1.5  # how far from the flight's own contact point, in diameters
LEAST_MATCH = 0.7
LARGEST_MISFIT = 0.15  # of the diameter against the flight's own


def resting_ball(
    frames: Iterable[Frame], empty: Background, contact_s: float, centre_px: Floats, width_px: float
) -> BallImage | None:
    """Look for a still ball where the flight says contact was.

    Parameters
    ----------
    frames : iterable of Frame
        In order of time, of the time before contact at least.
    empty : Background
        The field after contact, without the ball.
    contact_s : float
        Clip time. [s]
    centre_px, width_px : (2,) array, float
        Where and how large the fitted flight has the ball at contact.

    Returns
    -------
    BallImage or None
        None where nothing of the ball's size rested there, as with a pitch.
    """
    if not np.isfinite(centre_px).all():
        return None
    start, stop = contact_s + STILL_S[0], contact_s + STILL_S[1]
    until = itertools.takewhile(lambda frame: frame.time_s < stop, frames)  # what comes later is not decoded
    height, width = empty.luma.shape
    box = box_about(centre_px, (1.0 + 2.0 * SEARCH_WIDTHS) * width_px + MARGIN_PX, (width, height))
    if min(box.sides) < SMALLEST_PATCH_PX:
        return None
    still = [frame.part(box) for frame in until if frame.time_s > start]  # whole pictures would fill the memory
    if len(still) < FEWEST_FRAMES:
        return None
    before = median_background(still[:: -(-len(still) // MOST_FRAMES)])
    picture = Frame(0, contact_s, before.luma, before.cb, before.cr)
    corner_px = np.array([box.left, box.top])
    expected = Expected(centre_px - corner_px, width_px, np.zeros(2), SEARCH_WIDTHS * width_px + 3.0)
    image = find_ball(picture, empty.part(box), expected)
    if image is None or image.reason or image.match < LEAST_MATCH:
        return None
    if abs(image.diameter_px / width_px - 1.0) > LARGEST_MISFIT:
        return None
    return replace(image, centre_px=image.centre_px + corner_px)
