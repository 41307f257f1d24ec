"""Where in the picture the batter swings: from the marked field, else learnt from what moves when a bat cracks."""

from collections.abc import Sequence

import cv2
import numpy as np

from balltrack.recording.look import FULL, Look
from balltrack.units import Floats

LOUDEST = 200  # of the sharp sounds so many are asked: a bat close by is among them, voices and other cages may be too
DURING_S = 0.13  # what moves from so long before a crack to so long after it
AROUND_S = (0.7, 1.6)  # against what moves so long before and after it
CALM = 0.25  # this quantile of what moves around: a swing that follows soon does not lift it
OTHER_TIMES = 5  # so many times as there are sounds, spread evenly over the film, tell what chance gives
CLEAR = 4.0  # standard deviations above chance
FEWEST_SOUNDS = 3
EDGE = 0.25  # of the cell that moves most: the zone's outline


def box_weights(box_px: tuple[int, int, int, int], size_px: tuple[int, int], grid: tuple[int, int]) -> Floats:
    """(rows, columns) share of each cell that lies in a box left, top, right, bottom, so that they add up to 1."""
    rows, columns = grid
    left, top, right, bottom = (float(edge) for edge in box_px)
    across = _overlap(left, right, size_px[0], columns)
    down = _overlap(top, bottom, size_px[1], rows)
    weights = np.outer(down, across)
    return np.asarray(weights / weights.sum(), np.float64)


def _overlap(low: float, high: float, size: int, cells: int) -> Floats:
    edges = np.linspace(0, size, cells + 1)
    return np.asarray(np.maximum(np.minimum(edges[1:], high) - np.maximum(edges[:-1], low), 0.0), np.float64)


def learnt_weights(seen: Look) -> Floats | None:
    """The same, learnt: the cells that move with the loudest sharp sounds clearly more than at other times.

    None where nothing does: too few sounds, or none with a swing.
    """
    loudest = sorted(seen.onsets, key=lambda onset: -onset.strength_db)[:LOUDEST]
    heard_s = [onset.time_s for onset in loudest]
    if len(heard_s) < FEWEST_SOUNDS or not len(seen.time_s):
        return None
    with_sounds = surges_at(seen, heard_s)
    spread = np.linspace(seen.time_s[0], seen.time_s[-1], OTHER_TIMES * len(heard_s) + 2)[1:-1]
    at_random = surges_at(seen, [float(time) for time in spread])
    if len(with_sounds) < FEWEST_SOUNDS or len(at_random) < FEWEST_SOUNDS:
        return None
    # A step of the stored scale is the least that chance can be said to give.
    chance = np.maximum(at_random.std(axis=0), 1 / FULL) / np.sqrt(len(with_sounds))
    rise = with_sounds.mean(axis=0) - at_random.mean(axis=0)
    clear = np.where(rise > CLEAR * chance, rise, 0.0)
    if not clear.any():
        return None
    return _strongest_patch(clear)


def _strongest_patch(rise: Floats) -> Floats:
    """Of the cells that stand out, the patch that holds most, as weights."""
    _, labels = cv2.connectedComponents((rise > EDGE * rise.max()).astype(np.uint8), connectivity=8)
    patches = [labels == label for label in range(1, int(labels.max()) + 1)]
    best = max(patches, key=lambda patch: float(rise[patch].sum()))
    return np.asarray(best / best.sum(), np.float64)


def surges_at(seen: Look, times_s: Sequence[float]) -> Floats:
    """(k, rows, columns) how much more of each cell moves at each time than around it, 0..1.

    A time at which there are no pictures is left out.
    """
    surges = []
    for time in times_s:
        begin, end = np.searchsorted(seen.time_s, [time - AROUND_S[1], time + AROUND_S[1]])
        part, off_s = seen.moved[begin:end], seen.time_s[begin:end] - time
        during, around = np.abs(off_s) <= DURING_S, np.abs(off_s) >= AROUND_S[0]
        if during.sum() >= 2 and around.sum() >= 4:
            surges.append((part[during].mean(axis=0) - np.quantile(part[around], CALM, axis=0)) / FULL)
    return np.array(surges, np.float64)
