"""From frames whose ball is known to examples: patches with the ball, and patches of the same frames without it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.detect.background import Bytes
from balltrack.detect.network import NEIGHBOUR_S, Network
from balltrack.detect.triple import SIDE_PX, Triple, corner_around, part_of, triples
from balltrack.errors import RecordError
from balltrack.training.example import NEAR_PX, NEAR_SHARE, Example, look, streak_box
from balltrack.training.taught import MEASURE_AGAIN, SAME_FRAME, Place, TaughtSwing
from balltrack.units import Floats
from balltrack.video.frames import read_frames

OFF_MIDDLE = 0.3  # the ball lies at most so far from the middle of its patch, in sides
STEP_PX = 4  # change is looked at in every so many-th pixel
MOST_CHANGED = 0.998  # a patch without ball is laid where as much changes as in the last of 500 places
USUAL_EXPOSURE_S = 1 / 500  # of a phone on a bright day, where the pictures do not tell
LEAST_STREAKS, MOST_STREAKS = 16, 2000  # sides of streaks that tell the exposure; of more, some
LEAST_RUN_PX = 2.0  # in a sixtieth of a second: balls that differ by less in speed tell nothing of it


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A patch, and what is known of the ball in it."""

    frames: Bytes  # (3, side, side)
    centre_px: Floats | None  # (2,) in the patch; None where there is no ball
    diameter_px: float
    velocity_pxps: Floats  # (2,)


def cut_swing(swing: TaughtSwing, rng: np.random.Generator) -> list[Cut]:
    """A patch with the ball of every place, and one without a ball of every frame.

    Raises
    ------
    VideoError
        If the clip cannot be read.
    RecordError
        If it has no frame at the time of a row that a person set, or at most of the times measured.
    """
    left = list(swing.places)
    out: list[Cut] = []
    for triple in _triples(swing):
        here = [place for place in left if abs(place.time_s - triple.now.time_s) < SAME_FRAME * swing.frame_s]
        for place in here:
            left.remove(place)
            out += _cut_place(triple, place, rng)
    for place in left:
        if place.hand_line is not None:
            raise RecordError(
                f"{swing.hand} line {place.hand_line}: {swing.info.path.name} has no frame at {place.time_s:g} s; "
                "give the time of a frame"
            )
    if 2 * len(left) > len(swing.places):
        raise RecordError(f"the track of {swing.name} does not fit {swing.info.path.name}; {MEASURE_AGAIN}")
    return out


def exposure_s(network: Network, cuts: Sequence[Cut]) -> float:
    """How long the shutter was open, from the streaks that a network already finds.

    Along each side of the picture a streak is longer than the ball by speed times exposure, and by a margin that all
    boxes of a network share: the slope between them is the exposure. The usual time where too few tell. Clips of a
    lesson are filmed alike: give those of one.

    References
    ----------
    Sen, Estimates of the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63 (1968): the median of
    the slopes between all pairs.
    """
    from scipy.stats import theilslopes

    balls = [(cut, cut.centre_px) for cut in cuts if cut.centre_px is not None]
    balls = balls[:: max(2 * len(balls) // MOST_STREAKS, 1)]
    speed_pxps: list[float] = []
    longer_px: list[float] = []
    for (cut, centre_px), finds in zip(balls, look(network, [cut.frames for cut, _ in balls]), strict=True):
        sides = finds.box_px[:, 2:] - finds.box_px[:, :2]
        near = (np.abs(finds.centre_px - centre_px) <= NEAR_PX + NEAR_SHARE * sides).all(axis=1)
        if near.any():
            speed_pxps += np.abs(cut.velocity_pxps).tolist()
            longer_px += (sides[near][0] - cut.diameter_px).tolist()
    if len(speed_pxps) < LEAST_STREAKS or np.ptp(speed_pxps) * NEIGHBOUR_S < LEAST_RUN_PX:
        return USUAL_EXPOSURE_S
    return max(float(theilslopes(longer_px, speed_pxps)[0]), 0.0)


def as_example(cut: Cut, shutter_s: float) -> Example:
    """The cut with its ball's box: a disc drawn out by its motion while the shutter was open."""
    if cut.centre_px is None:
        return Example(cut.frames, np.zeros((0, 4)))
    box = streak_box(cut.centre_px, cut.diameter_px, cut.velocity_pxps * shutter_s)
    return Example(cut.frames, np.clip(box, 0, SIDE_PX)[None])


def _triples(swing: TaughtSwing) -> Iterator[Triple]:
    margin_s = 2 * max(NEIGHBOUR_S, swing.frame_s)
    first_s, last_s = swing.places[0].time_s, swing.places[-1].time_s
    return triples(read_frames(swing.info.path, first_s - margin_s, last_s + margin_s, info=swing.info))


def _cut_place(triple: Triple, place: Place, rng: np.random.Generator) -> list[Cut]:
    out = []
    if place.centre_px is not None:
        middle = place.centre_px + rng.uniform(-OFF_MIDDLE, OFF_MIDDLE, 2) * SIDE_PX
        frames, corner = _patch(triple, middle)
        out.append(Cut(frames, place.centre_px - corner, place.diameter_px, np.array(place.velocity_pxps)))
    elif place.doubted_px is not None:
        out.append(_empty(_patch(triple, place.doubted_px)[0]))
    middle = where_much_changes(triple.now.luma, triple.before.luma, rng)
    frames, corner = _patch(triple, middle)
    if place.centre_px is None or (np.abs(place.centre_px - corner - SIDE_PX / 2) > SIDE_PX).any():
        out.append(_empty(frames))
    return out


def _empty(frames: Bytes) -> Cut:
    return Cut(frames, None, 0.0, np.zeros(2))


def where_much_changes(now: Bytes, before: Bytes, rng: np.random.Generator) -> Floats:
    """(2,) a place of the picture where bodies, bats or leaves move."""
    change = cv2.blur(cv2.absdiff(now[::STEP_PX, ::STEP_PX], before[::STEP_PX, ::STEP_PX]), (5, 5))
    places = np.argwhere(change >= np.quantile(change, MOST_CHANGED))
    place = places[rng.integers(len(places))][::-1] * float(STEP_PX)
    return np.asarray(place + rng.uniform(-SIDE_PX / 3, SIDE_PX / 3, 2))


def _patch(triple: Triple, middle_px: Floats) -> tuple[Bytes, Floats]:
    """(3, side, side) around a place, and its corner (2,)."""
    corner = corner_around(middle_px, triple.now.luma.shape)
    return part_of(triple.planes, corner), corner.astype(np.float64)
