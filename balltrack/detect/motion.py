"""Motion candidates: what differs from the empty field, cut into compact regions."""

from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates
from balltrack.detect.islands import THICK_PX, Ints, Mask
from balltrack.detect.regions import SMALLEST_AREA_PX, Regions, blank_mask, describe, planes_of
from balltrack.video.frames import Frame

MOST_CANDIDATES = 160  # a frame with more is shaken, or full of leaves: the widest are kept
MOST_REGIONS = 400  # by the plain mask or by the thick one, of which the widest are described
THICK = np.ones((THICK_PX, THICK_PX), np.uint8)
# What is eroded towards one corner must be dilated back from the other, or it ends up a pixel off.
FIRST, LAST = (0, 0), (THICK_PX - 1, THICK_PX - 1)
GAIN_STEP = 8  # every eighth pixel suffices to see the phone change its exposure
STRIP_ROWS = 256  # are worked on at a time, an even number: less costs calls, more does not stay in a core's cache


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
    plain = _changed(luma, frame, background)
    boxes = boxes_of(plain)
    # Strands of a net and moving leaves cling to a ball that passes them; what is thick stands free of them.
    thick = _thick_part(plain, boxes)
    regions = _widest_first(plain, _ball_sized(boxes, limits), thick, _ball_sized(boxes_of(thick), limits))
    found = describe(frame.time_s, planes_of(frame, background, luma), regions, MOST_CANDIDATES)
    return found.only(found.width_px <= limits.widest_px)


def boxes_of(mask: Mask) -> Ints:
    """(n, 4) left, top, width, height in the picture of what hangs together, corners included, and of the gaps in it;
    single pixels not.

    A ball as bright as the field but for its rim, which something larger touches, is seen as a gap only. In order of
    the first pixel, row by row. Outlines are asked for, not a label of each pixel: that takes a fifteenth of the time.
    """
    if not mask.bytes.size:
        return np.empty((0, 4), np.int64)
    corner = mask.left, mask.top
    found, _ = cv2.findContours(mask.bytes, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE, offset=corner)
    outlines = [line for line in found if len(line) > 1]
    boxes = np.array([cv2.boundingRect(line) for line in outlines], dtype=np.int64).reshape(-1, 4)
    first = np.array([line[0, 0] for line in outlines], dtype=np.int64).reshape(-1, 2)
    return np.asarray(boxes[np.lexsort((first[:, 0], first[:, 1]))])


def _ball_sized(boxes: Ints, limits: SizeLimits) -> Ints:
    """Those of a size that a ball may have, the widest first."""
    sizes = boxes[:, 2:]
    fits = boxes[(sizes.max(axis=1) <= limits.longest_px) & (sizes.prod(axis=1) >= SMALLEST_AREA_PX)]
    return np.asarray(fits[_order(fits)[:MOST_REGIONS]])


def _order(boxes: Ints) -> Ints:
    """From the widest to the thinnest."""
    return np.asarray(np.argsort(-boxes[:, 2:].min(axis=1), kind="stable"), dtype=np.int64)


def _widest_first(plain: Mask, boxes: Ints, thick: Mask, stout: Ints) -> Regions:
    """The regions of both masks."""
    every = np.concatenate([boxes, stout])
    order = _order(every)
    return Regions(plain, thick, every[order], order >= len(boxes))


def _thick_part(plain: Mask, boxes: Ints) -> Mask:
    """What of a mask is thick, in the part of the frame in which all regions lie that are large enough to be so."""
    large = boxes[boxes[:, 2:].min(axis=1) >= THICK_PX]
    if not len(large):
        return blank_mask(0, 0, 0, 0)
    left, top = large[:, :2].min(axis=0).tolist()
    right, bottom = (large[:, :2] + large[:, 2:]).max(axis=0).tolist()
    thick = blank_mask(left, top, right - left, bottom - top)
    part = plain.bytes[top:bottom, left:right]
    # Beyond the rim nothing counts as changed: of a ball cut off there what is seen must be thick by itself. That this
    # is said of both steps saves most of their time.
    core = cv2.erode(part, THICK, anchor=FIRST, borderType=cv2.BORDER_CONSTANT, borderValue=(0,))
    cv2.dilate(core, THICK, thick.bytes, LAST, 1, cv2.BORDER_CONSTANT, (0,))
    return thick


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


def _changed(luma: Bytes, frame: Frame, background: Background) -> Mask:
    """Where brightness or colour leaves the flicker of the empty field."""
    height, width = luma.shape
    changed = blank_mask(0, 0, width, height)
    for top in range(0, height, STRIP_ROWS):
        rows, half = slice(top, top + STRIP_ROWS), slice(top // 2, (top + STRIP_ROWS) // 2)
        mask = changed.bytes[rows]
        cv2.absdiff(luma[rows], background.luma[rows], dst=mask)
        cv2.compare(mask, background.luma_limit[rows], cv2.CMP_GT, dst=mask)
        chroma = cv2.absdiff(frame.cb[half], background.cb[half])
        cv2.add(chroma, cv2.absdiff(frame.cr[half], background.cr[half]), dst=chroma)
        cv2.compare(chroma, background.chroma_limit[half], cv2.CMP_GT, dst=chroma)
        # Each sample of colour lies over two columns and two rows. Resizing would take ten times as long.
        doubled = cv2.merge([chroma, chroma]).reshape(len(chroma), -1)[:, :width]
        for first in (0, 1):
            part = mask[first::2]
            cv2.bitwise_or(part, doubled[: len(part)], dst=part)
    return changed
