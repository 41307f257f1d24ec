"""Of all that a film shows of a board, the few views that tell most: sharp, still, and unlike each other."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.spatial import ConvexHull

from balltrack.camera.board import Bytes, Corners
from balltrack.camera.calibrate import check_count, first_guess
from balltrack.errors import CalibrationError
from balltrack.units import Floats

MOST_VIEWS = 24  # more tell little that is new, and their calibration takes longer
SAME_POSE = 0.06  # 6 % of the picture, 12 % of the board's size, or 3.4 degrees of tilt apart: less is the same pose
SHARP_SHARE = 0.6  # of how sharp the film's sharpest views are: half as sharp again is a blurred one
# Between two views the board moves by so much of the longer side in a second, at most: while a phone reads its rows
# (7 to 31 ms, see `marks.ReadoutPrior`), a slower board is bent by a third of a pixel at 1080p.
STILL_SHARE_PER_S = 0.01
NEIGHBOUR_S = 0.6  # views farther apart than this tell nothing of how the board moved between them
LEAST_TILT_DEG, LEAST_TILTED = 15.0, 4  # a board seen square on says nothing of the focal length
LEAST_COVER = 0.35  # of the picture, by all views together: beyond it the distortion is guessed
COVER_CELLS = (32, 18)


@dataclass(frozen=True, slots=True, eq=False)
class BoardView:
    """A board in one frame of a film."""

    time_s: float
    corners: Corners
    sharpness: float  # steepest edges over contrast, about 1 / (2.5 sd of the blur) [1/px]


def sharpness(luma: Bytes, corners: Corners) -> float:
    """How steep the edges about a board's corners are, over their contrast. [1/px]"""
    low = np.maximum(np.floor(corners.pixels.min(axis=0)).astype(int), 0)
    high = np.ceil(corners.pixels.max(axis=0)).astype(int) + 1
    part = luma[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    slope = np.hypot(cv2.Sobel(part, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(part, cv2.CV_32F, 0, 1, scale=1 / 8))
    dark, bright = np.percentile(part, [5, 95])
    return float(np.percentile(slope, 99) / max(bright - dark, 1.0))


def choose_views(seen: Sequence[BoardView], size_px: tuple[int, int]) -> list[Corners]:
    """At most ``MOST_VIEWS`` views, in the order in which each adds most.

    Raises
    ------
    CalibrationError
        If the film shows the board in too few ways, never tilted, or in too small a part of the picture.
    """
    good = _sharp_and_still(seen, size_px)
    check_count(len(good))
    poses = np.array([_pose(view.corners, size_px) for view in good])
    order = _most_different(poses)
    check_count(len(order))
    chosen = [good[i].corners for i in order]
    tilts_deg = np.degrees(np.hypot(poses[order, 3], poses[order, 4]))
    _check_tilt(tilts_deg)
    _check_cover(chosen, size_px)
    return chosen


def _sharp_and_still(seen: Sequence[BoardView], size_px: tuple[int, int]) -> list[BoardView]:
    if not seen:
        return []
    speeds = [_speed_px_s(seen, i) for i in range(len(seen))]
    still_px_s = STILL_SHARE_PER_S * max(size_px)
    limit_px_s = max(still_px_s, float(np.median(speeds)))  # of a film that never rests the calmer half
    sharp = SHARP_SHARE * float(np.percentile([view.sharpness for view in seen], 90))
    return [
        view for view, speed in zip(seen, speeds, strict=True) if view.sharpness >= sharp and speed <= limit_px_s
    ]


def _speed_px_s(seen: Sequence[BoardView], index: int) -> float:
    """How fast the corners move from or to the neighbour in time, the slower of the two; inf where none is near."""
    speeds = []
    for other in (*seen[max(index - 1, 0) : index], *seen[index + 1 : index + 2]):
        here, there = seen[index].corners, other.corners
        apart_s = abs(other.time_s - seen[index].time_s)
        if apart_s > NEIGHBOUR_S:
            continue
        _, i, j = np.intersect1d(here.numbers, there.numbers, return_indices=True)
        if len(i):
            moved_px = float(np.median(np.linalg.norm(here.pixels[i] - there.pixels[j], axis=1)))
            speeds.append(moved_px / max(apart_s, 1e-3))
    return min(speeds, default=np.inf)


def _pose(corners: Corners, size_px: tuple[int, int]) -> Floats:
    """(5,) what makes two views differ: place [shares of the picture], log size, tilt about two axes [rad]."""
    matrix = first_guess(size_px)
    _, turn, _ = cv2.solvePnP(corners.points_m, corners.pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    normal = np.asarray(cv2.Rodrigues(turn)[0])[:, 2]
    angle = np.arccos(np.clip(abs(normal[2]), 0.0, 1.0))
    across = normal[:2] * np.sign(normal[2] or 1.0)
    tilt = angle * across / max(float(np.linalg.norm(across)), 1e-9)
    middle = corners.pixels.mean(axis=0) / size_px
    size = 0.5 * np.log(ConvexHull(corners.pixels).volume / (size_px[0] * size_px[1]))
    return np.array([*middle, size, *tilt])


def _most_different(poses: Floats) -> list[int]:
    """Begin with the most tilted; then each time the view farthest from all chosen, until the rest is more of the same.

    Two views of one pose share its errors: they would pass for more than they are.
    """
    first = int(np.argmax(np.hypot(poses[:, 3], poses[:, 4])))
    chosen = [first]
    away = np.linalg.norm(poses - poses[first], axis=1)
    while len(chosen) < MOST_VIEWS and away.max() > SAME_POSE:
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(poses - poses[chosen[-1]], axis=1))
    return chosen


def _check_tilt(tilts_deg: Floats) -> None:
    if np.count_nonzero(tilts_deg >= LEAST_TILT_DEG) < LEAST_TILTED:
        raise CalibrationError(
            f"the board is tilted by {LEAST_TILT_DEG:.0f} degrees or more in "
            f"{np.count_nonzero(tilts_deg >= LEAST_TILT_DEG)} of {len(tilts_deg)} views (at most by "
            f"{tilts_deg.max():.0f}); seen square on it says nothing of the focal length: tilt it by 30 to 45 degrees, "
            "left, right, up and down"
        )


def _check_cover(chosen: Sequence[Corners], size_px: tuple[int, int]) -> None:
    columns, rows = COVER_CELLS
    covered = np.zeros((rows, columns), np.uint8)
    for corners in chosen:
        hull = cv2.convexHull((corners.pixels * [columns, rows] / size_px).astype(np.float32))
        cv2.fillConvexPoly(covered, hull.astype(np.int32), 1)
    share = float(covered.mean())
    if share < LEAST_COVER:
        raise CalibrationError(
            f"the board covers only {100 * share:.0f} % of the picture, all views together (at least "
            f"{100 * LEAST_COVER:.0f} %); hold it nearer, and into every corner of the picture"
        )
