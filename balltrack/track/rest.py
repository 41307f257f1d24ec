"""The ball at rest before contact: on a tee it shows, unblurred and in many frames, just where contact was."""

import itertools
from collections.abc import Iterable

import numpy as np

from balltrack.detect.background import Background, median_background
from balltrack.track.centre import BallImage, Expected, find_ball
from balltrack.units import Floats
from balltrack.video.frames import Frame
from balltrack.video.window import size_bytes

STILL_S = (-0.5, -0.06)  # before contact; the bat comes into the way only at the very end
FEWEST_FRAMES = 5
MOST_FRAMES, MOST_BYTES = 15, 100_000_000  # of large pictures fewer
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
    start, stop = contact_s + STILL_S[0], contact_s + STILL_S[1]
    until = itertools.takewhile(lambda frame: frame.time_s < stop, frames)  # what comes later is not decoded
    still = _spread(frame for frame in until if frame.time_s > start)
    if len(still) < FEWEST_FRAMES or not np.isfinite(centre_px).all():
        return None
    before = median_background(still)
    picture = Frame(0, contact_s, before.luma, before.cb, before.cr)
    expected = Expected(centre_px, width_px, np.zeros(2), SEARCH_WIDTHS * width_px + 3.0)
    image = find_ball(picture, empty, expected)
    if image is None or image.reason or image.match < LEAST_MATCH:
        return None
    if abs(image.diameter_px / width_px - 1.0) > LARGEST_MISFIT:
        return None
    return image


def _spread(frames: Iterable[Frame]) -> list[Frame]:
    """Evenly spaced frames, each one or every second, fourth …: no more are held than fit."""
    kept: list[Frame] = []
    step = 1
    for number, frame in enumerate(frames):
        if number % step == 0:
            kept.append(frame)
        if len(kept) > np.clip(MOST_BYTES // size_bytes(frame), 2 * FEWEST_FRAMES - 1, MOST_FRAMES):
            kept, step = kept[::2], 2 * step
    return kept
