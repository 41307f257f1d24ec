"""Motion candidates: what differs from the empty field, cut into compact regions."""

import heapq
import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates
from balltrack.detect.regions import SMALLEST_AREA_PX, Ints, Region, describe
from balltrack.video.frames import Frame

MOST_CANDIDATES = 160  # a frame with more is shaken, or full of leaves: the widest are kept
MOST_REGIONS = 400  # by the plain mask or by the thick one, of which the widest are described
THICK_PX = 4  # a ball of under four pixels is described by the plain mask
THICK = np.ones((THICK_PX, THICK_PX), np.uint8)
# What is eroded towards one corner must be dilated back from the other, or it ends up a pixel off.
FIRST, LAST = (0, 0), (THICK_PX - 1, THICK_PX - 1)
PARENT = 3  # of the four links of an outline: the region whose hole it is
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
    changed = _changed_mask(luma, frame, background)
    boxes = _boxes(changed)
    # Strands of a net and moving leaves cling to a ball that passes them; what is thick stands free of them.
    thick = _thick_part(changed, boxes)
    plain, stout = _regions(changed, boxes, limits), _regions(thick.mask, _boxes(thick.mask), limits)
    stout = [Region(thick.left + region.left, thick.top + region.top, region.mask) for region in stout]
    free = (region for region in plain if not _partly_thick(region, thick))
    widest = itertools.islice(heapq.merge(free, stout, key=_thinness), MOST_CANDIDATES)
    found = describe(frame, background, luma, list(widest))
    return found.only(found.width_px <= limits.widest_px)


def _thinness(region: Region) -> int:
    """The less, the wider."""
    height, width = region.mask.shape
    return -int(min(height, width))


def _boxes(mask: Bytes) -> Ints:
    """(n, 4) left, top, width, height of the connected regions of more than one pixel."""
    if not mask.size:
        return np.zeros((0, 4), dtype=np.intp)
    outlines, inside = cv2.findContoursLinkRuns(mask)  # half the time of findContours
    if not len(outlines):
        return np.zeros((0, 4), dtype=np.intp)
    starts = np.cumsum([0, *(len(outline) for outline in outlines[:-1])])
    corners = np.concatenate(outlines).reshape(-1, 2)
    first, last = np.minimum.reduceat(corners, starts), np.maximum.reduceat(corners, starts)
    boxes = np.concatenate([first, last - first + 1], axis=1)[inside[0, :, PARENT] < 0]
    return np.asarray(boxes[boxes[:, 2:].max(axis=1) > 1], dtype=np.intp)


def _regions(mask: Bytes, boxes: Ints, limits: SizeLimits) -> list[Region]:
    """Those regions that are of a size that a ball may have, the widest first."""
    sizes = boxes[:, 2:]
    fits = boxes[(sizes.max(axis=1) <= limits.longest_px) & (sizes.prod(axis=1) >= SMALLEST_AREA_PX)]
    widest = fits[np.argsort(-fits[:, 2:].min(axis=1), kind="stable")[:MOST_REGIONS]]
    return [
        Region(left, top, mask[top : top + height, left : left + width]) for left, top, width, height in widest.tolist()
    ]


def _thick_part(mask: Bytes, boxes: Ints) -> Region:
    """What of a mask is thick, in the part of the frame in which all regions lie that are large enough to be so."""
    large = boxes[boxes[:, 2:].min(axis=1) >= THICK_PX]
    if not len(large):
        return Region(0, 0, mask[:0, :0])
    left, top = large[:, :2].min(axis=0).tolist()
    right, bottom = (large[:, :2] + large[:, 2:]).max(axis=0).tolist()
    part = mask[top:bottom, left:right]
    # Beyond the rim nothing counts as changed: of a ball cut off there what is seen must be thick by itself.
    core = cv2.erode(part, THICK, anchor=FIRST, borderType=cv2.BORDER_CONSTANT, borderValue=(0,))
    thick = cv2.dilate(core, THICK, anchor=LAST)
    return Region(left, top, np.asarray(thick, dtype=np.uint8))


def _partly_thick(region: Region, thick: Region) -> bool:
    """Whether some of the region stands in the thick mask too, which describes it better."""
    height, width = region.mask.shape
    if min(height, width) < THICK_PX:
        return False
    left, top = region.left - thick.left, region.top - thick.top
    return cv2.countNonZero(thick.mask[top : top + height, left : left + width]) > 0


def match_exposure(luma: Bytes, reference: Bytes) -> Bytes:
    """Undo a change of the phone's exposure, so that only movers differ from the reference."""
    sample, target = luma[::GAIN_STEP, ::GAIN_STEP], reference[::GAIN_STEP, ::GAIN_STEP]
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


def _changed_mask(luma: Bytes, frame: Frame, background: Background) -> Bytes:
    """(h, w) 255 where brightness or colour leaves the flicker of the empty field, 0 elsewhere.

    Each step writes over the one before: fresh memory for a whole frame costs as much as the step itself.
    """
    mask = np.asarray(cv2.absdiff(luma, background.luma), dtype=np.uint8)
    cv2.compare(mask, background.luma_limit, cv2.CMP_GT, dst=mask)
    chroma = np.asarray(cv2.absdiff(frame.cb, background.cb), dtype=np.uint8)
    cv2.add(chroma, cv2.absdiff(frame.cr, background.cr), dst=chroma)
    cv2.compare(chroma, background.chroma_limit, cv2.CMP_GT, dst=chroma)
    # Each sample of colour lies over two columns and two rows. Resizing would take ten times as long.
    doubled = cv2.merge([chroma, chroma]).reshape(len(chroma), -1)[:, : mask.shape[1]]
    for first in (0, 1):
        rows = mask[first::2]
        cv2.bitwise_or(rows, doubled[: len(rows)], dst=rows)
    return mask
