"""Motion candidates: what differs from the empty field, cut into compact regions."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, Bytes
from balltrack.detect.candidates import Candidates, no_candidates
from balltrack.video.frames import Frame

SMALLEST_AREA_PX = 3
MOST_CANDIDATES = 160  # a frame with more is shaken, or full of leaves: the widest are kept
THICK = np.ones((4, 4), np.uint8)  # a ball of under four pixels is described by the plain mask
GAIN_STEP = 8  # every eighth pixel suffices to see the phone change its exposure


@dataclass(frozen=True, slots=True)
class SizeLimits:
    """The sizes that a ball may have in this camera's picture."""

    widest_px: float  # across: the ball at its nearest
    longest_px: float  # along: with the blur of its fastest flight


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
    luma_change = _difference(match_exposure(frame.luma, background.luma), background.luma)
    changed = _changed_mask(frame, background, luma_change)
    # Strands of a net and moving leaves cling to a ball that passes them; what is thick stands free of them.
    thick = np.asarray(cv2.morphologyEx(changed, cv2.MORPH_OPEN, THICK), dtype=np.uint8)
    boxes = [(changed, box) for box in _boxes(changed, limits) if not _partly_thick(thick, box)]
    boxes += [(thick, box) for box in _boxes(thick, limits)]
    boxes.sort(key=lambda each: -int(min(each[1][2], each[1][3])))
    rows = [_describe(frame, background, luma_change, mask, box) for mask, box in boxes[:MOST_CANDIDATES]]
    kept = [row for row in rows if row is not None and row[2] <= limits.widest_px]
    if not kept:
        return no_candidates(frame.time_s)
    table = np.array(kept, dtype=np.float64)
    return Candidates(frame.time_s, table[:, 0:2], table[:, 2], table[:, 3], table[:, 4:6], table[:, 6:9], table[:, 9])


def _boxes(mask: Bytes, limits: SizeLimits) -> NDArray[np.int64]:
    """(n, 4) left, top, width, height of regions of a size that a ball may have."""
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    boxes = np.array([cv2.boundingRect(outline) for outline in outlines], dtype=np.int64).reshape(-1, 4)
    short = boxes[:, 2:].max(axis=1, initial=0) <= limits.longest_px
    return np.asarray(boxes[short & (boxes[:, 2] * boxes[:, 3] >= SMALLEST_AREA_PX)])


def _partly_thick(thick: Bytes, box: NDArray[np.int64]) -> bool:
    """Whether some of the region stands in the thick mask too, which describes it better."""
    left, top, width, height = (int(value) for value in box)
    if min(width, height) < THICK.shape[0]:
        return False
    return cv2.countNonZero(thick[top : top + height, left : left + width]) > 0


def match_exposure(luma: Bytes, reference: Bytes) -> Bytes:
    """Undo a change of the phone's exposure, so that only movers differ from the reference."""
    sample, target = luma[::GAIN_STEP, ::GAIN_STEP].astype(np.int16), reference[::GAIN_STEP, ::GAIN_STEP]
    shift = float(np.median(sample - target))
    if abs(shift) < 1.0:
        return luma
    gain = (float(np.median(target)) + 1.0) / (float(np.median(sample)) + 1.0)
    return np.asarray(cv2.convertScaleAbs(luma, alpha=gain), dtype=np.uint8)


def _difference(one: Bytes, other: Bytes) -> Bytes:
    return np.asarray(cv2.absdiff(one, other), dtype=np.uint8)


def _changed_mask(frame: Frame, background: Background, luma_change: Bytes) -> Bytes:
    chroma_change = cv2.add(_difference(frame.cb, background.cb), _difference(frame.cr, background.cr))
    chroma_mask = cv2.compare(chroma_change, background.chroma_limit, cv2.CMP_GT)
    luma_mask = cv2.compare(luma_change, background.luma_limit, cv2.CMP_GT)
    height, width = luma_mask.shape
    full = cv2.resize(chroma_mask, (width, height), interpolation=cv2.INTER_NEAREST)
    return np.asarray(cv2.bitwise_or(luma_mask, full), dtype=np.uint8)


def _describe(
    frame: Frame, background: Background, luma_change: Bytes, changed: Bytes, box: NDArray[np.int64]
) -> tuple[float, ...] | None:
    left, top, width, height = (int(value) for value in box)
    window = np.s_[top : top + height, left : left + width]
    inside = changed[window] > 0
    area = int(inside.sum())
    if area < SMALLEST_AREA_PX:
        return None
    change = luma_change[window].astype(np.float64)
    rows, columns = np.nonzero(inside)
    # Half weight to being inside, half to how much it differs: edges of a blurred ball count less, flat ones still do.
    strength = change[rows, columns]
    weight = 0.3 + np.minimum(strength / max(float(strength.max()), 1.0), 1.0)
    total = weight.sum()
    u = float((weight * columns).sum() / total)
    v = float((weight * rows).sum() / total)
    du, dv = columns - u, rows - v
    suu, svv, suv = (
        float((weight * part).sum() / total) + add
        for part, add in ((du * du, 1 / 12), (dv * dv, 1 / 12), (du * dv, 0.0))
    )
    half_sum, half_difference = (suu + svv) / 2, (suu - svv) / 2
    root = float(np.hypot(half_difference, suv))
    angle = 0.5 * float(np.arctan2(suv, half_difference))
    # A disc of diameter d has variance d²/16 along each axis; 2/sqrt(12)-type factors for streaks differ by under 15 %.
    short, long = 4 * np.sqrt(max(half_sum - root, 1 / 12)), 4 * np.sqrt(half_sum + root)
    core = weight >= np.percentile(weight, 60)
    core_rows, core_columns = rows[core] + top, columns[core] + left
    half_rows = np.minimum(core_rows // 2, frame.cb.shape[0] - 1)
    half_columns = np.minimum(core_columns // 2, frame.cb.shape[1] - 1)
    ratio = float((strength / background.luma_limit[window][rows, columns]).max())
    return (
        left + u, top + v, float(short), float(long), float(np.cos(angle)), float(np.sin(angle)),
        float(frame.luma[core_rows, core_columns].mean()),
        float(frame.cb[half_rows, half_columns].mean()), float(frame.cr[half_rows, half_columns].mean()),
        max(ratio, 1.0),
    )  # fmt: skip
