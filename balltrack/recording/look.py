"""What moves where in a stretch of film, and what is heard: all that is kept of it to find the swings."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.onset import Onset, find_onsets
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo
from balltrack.video.glance import LEAST_GAP_S, glances
from balltrack.video.sound import read_sound

CELLS_ALONG = 24  # of the grid, along the longer side: at 1080p each is 80 x 80 pixels
STEP = 14  # luma difference that counts as moved
FULL = 255  # stored for a cell all of which moved
# The first pair of pictures needs one before the stretch, and a sharp sound what lies around it.
PICTURE_MARGIN_S, SOUND_MARGIN_S = 0.2, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What moved and what was heard, in order of time. Clip time, real seconds."""

    time_s: Floats  # (n,) between two pictures
    moved: NDArray[np.uint8]  # (n, rows, columns) share of each cell's pixels that moved within LEAST_GAP_S, of FULL
    onsets: tuple[Onset, ...]
    audible: bool  # there is sound


def look(info: ClipInfo, start_s: float, stop_s: float) -> Look:
    """Look at and listen to ``start_s <= time < stop_s`` of a film. Raises VideoError where it cannot be opened."""
    times: list[float] = []
    moved: list[NDArray[np.uint8]] = []
    before = None
    for glance in glances(info, start_s - PICTURE_MARGIN_S, stop_s):
        if before is not None and glance.time_s >= start_s:
            gap_s = glance.time_s - before.time_s
            times.append(0.5 * (glance.time_s + before.time_s))
            moved.append(_moved(before.luma, glance.luma, min(1.0, LEAST_GAP_S / gap_s)))
        before = glance
    sound = read_sound(info.path, info, start_s - SOUND_MARGIN_S, stop_s + SOUND_MARGIN_S)
    onsets = find_onsets(sound) if sound is not None else ()
    within = tuple(onset for onset in onsets if start_s <= onset.time_s < stop_s)
    grids = np.array(moved, np.uint8) if moved else np.zeros((0, *grid_of(info.size_px)), np.uint8)
    return Look(np.array(times, np.float64), grids, within, sound is not None)


def joined(looks: Sequence[Look]) -> Look:
    """One look of several at stretches that follow each other."""
    return Look(
        np.concatenate([each.time_s for each in looks]),
        np.concatenate([each.moved for each in looks]),
        tuple(onset for each in looks for onset in each.onsets),
        any(each.audible for each in looks),
    )


def grid_of(size_px: tuple[int, int]) -> tuple[int, int]:
    """Rows and columns of the grid over a picture."""
    width, height = size_px
    cell_px = max(width, height) / CELLS_ALONG
    return max(round(height / cell_px), 1), max(round(width / cell_px), 1)


def _moved(before: NDArray[np.uint8], now: NDArray[np.uint8], weight: float) -> NDArray[np.uint8]:
    """Share of each cell that differs, put per LEAST_GAP_S: at low frame rates more moves between two pictures."""
    if before.shape != now.shape:  # the film changes its size here
        return np.zeros(grid_of((now.shape[1], now.shape[0])), np.uint8)
    differs = (cv2.absdiff(before, now) > STEP).astype(np.float32) * (FULL * weight)
    rows, columns = grid_of((now.shape[1], now.shape[0]))
    return np.asarray(np.rint(cv2.resize(differs, (columns, rows), interpolation=cv2.INTER_AREA)), np.uint8)
