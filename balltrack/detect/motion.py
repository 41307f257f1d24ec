"""Motion candidates: what differs from the empty field, cut into compact regions."""

from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates
from balltrack.detect.islands import Ints
from balltrack.detect.regions import SMALLEST_AREA_PX, Regions, describe, planes_of, read_only
from balltrack.detect.runs import Runs, Seen, blank_mask, boxes, gaps, islands, mark_changed, mark_thick, runs_of
from balltrack.video.frames import Frame

MOST_CANDIDATES = 160  # a frame with more is shaken, or full of leaves: the widest are kept
MOST_REGIONS = 400  # by the plain mask or by the thick one, of which the widest are described
GAIN_STEP = 8  # every eighth pixel suffices to see the phone change its exposure


@dataclass(frozen=True, slots=True)
class SizeLimits:
    """The sizes that a ball may have in this camera's picture."""

    widest_px: float  # across: the ball at its nearest
    longest_px: float  # along: with the blur of its fastest flight


class Movers:
    """What moves before one empty field; a frame that is asked for again is not searched again."""

    def __init__(self, background: Background, limits: SizeLimits) -> None:
        self.background = background
        self._limits = limits
        self._found: dict[float, Candidates] = {}  # by the frame's time

    def of(self, frame: Frame) -> Candidates:
        """The candidates of a frame."""
        if frame.time_s not in self._found:
            self._found[frame.time_s] = find_candidates(frame, self.background, self._limits)
        return self._found[frame.time_s]


def find_candidates(frame: Frame, background: Background, limits: SizeLimits) -> Candidates:
    """Find the compact regions of a frame that differ from the empty field.

    Parameters
    ----------
    frame : Frame
    background : Background
        Of the same size.
    limits : SizeLimits
        Larger regions are people, bats and shadows.
    """
    luma = match_exposure(frame.luma, background.luma)
    plain, thick = blank_mask(*luma.shape), blank_mask(*luma.shape)
    mark_changed(_seen(luma, frame, background), plain)
    runs = runs_of(plain)
    # Strands of a net and moving leaves cling to a ball that passes them; what is thick stands free of them. Beyond
    # the rim nothing counts as changed: of a ball cut off there what is seen must be thick by itself.
    mark_thick(runs, thick)
    slim, stout = (_ball_sized(boxes_of(each), limits) for each in (runs, runs_of(thick)))
    regions = _widest_first(plain.bytes, slim, thick.bytes, stout)
    found = describe(frame.time_s, planes_of(frame, background, luma), regions, MOST_CANDIDATES)
    return found.only(found.width_px <= limits.widest_px)


def _seen(luma: Bytes, frame: Frame, background: Background) -> Seen:
    planes = luma, frame.cb, frame.cr, background.luma, background.cb, background.cr
    return Seen(*(read_only(plane) for plane in (*planes, background.luma_limit, background.chroma_limit)))


def boxes_of(runs: Runs) -> Ints:
    """(n, 4) left, top, width, height in the picture of what hangs together, corners included, and of the gaps in it;
    single pixels not.

    A ball as bright as the field but for its rim, which something larger touches, is seen as a gap only. In order of
    the first pixel of the outlines, row by row; of two with the same one, the later met comes first.
    """
    corners, begins = boxes(runs, islands(runs), gaps(runs))
    sides = corners[:, 2:] - corners[:, :2]
    order = np.lexsort((-begins[:, 3], -begins[:, 2], begins[:, 1], begins[:, 0]))
    order = order[sides.max(axis=1)[order] > 1]
    return np.concatenate([corners[order, :2], sides[order]], axis=1)


def _ball_sized(found: Ints, limits: SizeLimits) -> Ints:
    """Those of a size that a ball may have, the widest first."""
    sizes = found[:, 2:]
    fits = found[(sizes.max(axis=1) <= limits.longest_px) & (sizes.prod(axis=1) >= SMALLEST_AREA_PX)]
    return np.asarray(fits[_order(fits)[:MOST_REGIONS]])


def _order(found: Ints) -> Ints:
    """From the widest to the thinnest."""
    return np.asarray(np.argsort(-found[:, 2:].min(axis=1), kind="stable"), dtype=np.int64)


def _widest_first(plain: Bytes, slim: Ints, thick: Bytes, stout: Ints) -> Regions:
    """The regions of both masks."""
    every = np.concatenate([slim, stout])
    order = _order(every)
    return Regions(plain, thick, every[order], order >= len(slim))


def match_exposure(luma: Bytes, reference: Bytes) -> Bytes:
    """Undo a change of the phone's exposure, so that only movers differ from the reference."""
    sample, target = (np.ascontiguousarray(plane[::GAIN_STEP, ::GAIN_STEP]) for plane in (luma, reference))
    if 2 * max(np.count_nonzero(sample > target), np.count_nonzero(sample < target)) < sample.size:
        return luma  # the median of their differences is zero
    shift = np.bincount(np.subtract(sample, target, dtype=np.int16).ravel() + 255, minlength=511)
    if abs(_median(shift) - 255) < 1.0:
        return luma
    gain = (_median(np.bincount(target.ravel())) + 1.0) / (_median(np.bincount(sample.ravel())) + 1.0)
    return np.asarray(cv2.convertScaleAbs(luma, alpha=gain), dtype=np.uint8)


def _median(counts: Ints) -> float:
    """The median of whole numbers, of which each occurs so many times: (n,) from 0 on."""
    total = np.cumsum(counts)
    middle = [(total[-1] - 1) // 2, total[-1] // 2]  # of an even number of them, the mean of two
    return float(np.searchsorted(total, middle, side="right").mean())
