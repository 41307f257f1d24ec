"""How far the phone has turned since the field was marked, a bumped tripod, a sagging joint; and whether it sways."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import Camera, project, rays_field, rotation_matrices
from balltrack.units import Floats

MOST_CORNERS, CORNER_QUALITY, CORNER_APART_PX = 600, 0.005, 12.0
FLOW_WINDOW_PX, FLOW_LEVELS = (21, 21), 5  # corners are followed up to 2^5 windows far
THERE_AND_BACK_PX = 0.3  # a corner that does not come back so near is lost
# What moved alike but for so much may all stand on the field: a turn moves the rim of the picture more than its middle.
ALIKE_PX = 4.0
NOISE_PX, STILL_PX = 0.2, 0.7  # a corner that follows the turn to within the second stands still; leaves do not
FEWEST_STILL, LEAST_STILL_SHARE = 25, 0.25
LEAST_PX = 0.4  # a smaller drift is not told from none
# Most phones stand as they stood: then every fourth corner is found within the window, in the full picture alone.
QUICK_EVERY, QUICK_SHARE, QUICK_PX = 4, 0.5, 0.2  # this share of them must agree that it drifted by no more than this
FARTHEST_SHARE = 0.05  # of the width: beyond, the field should be marked anew
# Pictures of one clip are compared at no more than this width. Where so many corners stay within so little, the phone
# stands, and leaves or people move.
SWAY_WIDTH, STANDS_PX, STANDING_SHARE = 960, 0.15, 0.15

Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """How the phone turned, and what that did to the picture."""

    turn_rad: Floats  # (3,) rotation vector in the camera's axes, field to camera turned on by it
    size_px: float  # by which the picture's middle moved


class MarkedStill:
    """A still picture of the field, as it was marked, with its corners."""

    def __init__(self, luma: Picture) -> None:
        """Take a picture, (h, w) luma. Corners: Shi & Tomasi, CVPR 1994, by OpenCV."""
        self.luma = luma
        self._corners = _corners_of(luma, MOST_CORNERS)

    def drift(self, now: Picture, camera: Camera) -> Drift | None:
        """Compare with another still of the same size; None where it does not show the same place.

        The corners are followed by optical flow (Lucas & Kanade, in pyramids, by OpenCV); the turn of ``camera`` is
        what most of them agree on.
        """
        few = np.ascontiguousarray(self._corners[::QUICK_EVERY])
        quick = self._drift_of(few, now, camera, _Search(0, round(QUICK_SHARE * len(few))))
        if quick is not None and quick.size_px <= QUICK_PX:
            return quick
        return self._drift_of(self._corners, now, camera, _Search(FLOW_LEVELS, 0))

    def _drift_of(self, corners: NDArray[np.float32], now: Picture, camera: Camera, search: "_Search") -> Drift | None:
        """The same by some of the corners."""
        if len(corners) < FEWEST_STILL:
            return None
        there, found = _follow(self.luma, now, corners, search.levels)
        back, returned = _follow(now, self.luma, there, search.levels)
        away = np.linalg.norm((back - corners).reshape(-1, 2), axis=1)
        kept = found & returned & (away < THERE_AND_BACK_PX)
        start, end = corners.reshape(-1, 2)[kept].astype(np.float64), there.reshape(-1, 2)[kept].astype(np.float64)
        fewest = max(FEWEST_STILL, LEAST_STILL_SHARE * len(start), search.fewest)
        if len(start) < fewest:
            return None
        _, agree = cv2.estimateAffinePartial2D(
            start, end, method=cv2.RANSAC, ransacReprojThreshold=ALIKE_PX, maxIters=4000, confidence=0.9999
        )
        near = agree.ravel() > 0
        if near.sum() < fewest:
            return None
        turn, off_px = _turn(start[near], end[near], camera)
        if (off_px < STILL_PX).sum() < fewest:
            return None
        middle = (np.array([camera.size_px]) - 1) / 2
        size_px = float(np.linalg.norm(_seen_turned(rays_field(middle, camera), camera, turn) - middle))
        return Drift(turn, size_px)


@dataclass(frozen=True, slots=True)
class _Search:
    """How corners are sought."""

    levels: int  # how often the picture is halved
    fewest: int  # of them must have turned alike


def _corners_of(luma: Picture, most: int) -> NDArray[np.float32]:
    """(n, 1, 2) the places that stand out most."""
    found: NDArray[np.float32] | None = cv2.goodFeaturesToTrack(  # type: ignore[assignment]  # None where none is
        luma, most, CORNER_QUALITY, CORNER_APART_PX
    )
    return np.zeros((0, 1, 2), np.float32) if found is None else found


def _follow(
    here: Picture, there: Picture, corners: NDArray[np.float32], levels: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    moved, found, _ = cv2.calcOpticalFlowPyrLK(
        here, there, corners, corners.copy(), winSize=FLOW_WINDOW_PX, maxLevel=levels
    )
    return np.asarray(moved, np.float32), found.ravel() > 0


def _turn(start: Floats, end: Floats, camera: Camera) -> tuple[Floats, Floats]:
    """(3,) turn of the camera that moves pixels (n, 2) from ``start`` to ``end``, and (n,) how far each misses it."""
    from scipy.optimize import least_squares  # slow to import: only where clips are measured

    rays = rays_field(start, camera)

    def misses(turn: Floats) -> Floats:
        return np.asarray((_seen_turned(rays, camera, turn) - end).ravel())

    found = least_squares(misses, np.zeros(3), loss="cauchy", f_scale=NOISE_PX, x_scale=1 / camera.focal_px)
    return np.asarray(found.x), np.linalg.norm(misses(found.x).reshape(-1, 2), axis=1)


def _seen_turned(rays: Floats, camera: Camera, turn: Floats) -> Floats:
    return project(camera.position_field_m + rays, turned(camera, turn))


def turned(camera: Camera, turn: Floats) -> Camera:
    """The camera after a turn about its own place, (3,) rotation vector in its axes. [rad]"""
    rotation = rotation_matrices(turn) @ camera.field_to_camera
    parameters = camera.parameters.copy()
    parameters[:3] = np.asarray(cv2.Rodrigues(rotation)[0]).ravel()
    return replace(camera, parameters=parameters)


def sway_px(pictures: Sequence[Picture]) -> float:
    """How far the whole picture moves to and fro in a clip: the largest shift between two of its pictures, (h, w) luma.

    Zero where it shows too little to tell, or a good part of it stands.
    """
    small = [_small(each) for each in pictures]
    corners = _corners_of(small[0], MOST_CORNERS // QUICK_EVERY)
    if len(corners) < FEWEST_STILL:
        return 0.0
    shifts = np.array([np.zeros(2), *(_shift_px(small[0], each, corners) for each in small[1:])])
    apart = np.linalg.norm(shifts[:, None] - shifts[None], axis=-1)
    return float(apart.max() * (pictures[0].shape[1] / small[0].shape[1]))


def _small(luma: Picture) -> Picture:
    width = min(luma.shape[1], SWAY_WIDTH)
    size = width, round(luma.shape[0] * width / luma.shape[1])
    return np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), np.uint8)


def _shift_px(here: Picture, there: Picture, corners: NDArray[np.float32]) -> Floats:
    """(2,) how far most corners moved from one picture to the other."""
    moved, found = _follow(here, there, corners, FLOW_LEVELS)
    shifts = (moved - corners).reshape(-1, 2)[found].astype(np.float64)
    if len(shifts) < FEWEST_STILL or np.mean(np.hypot(*shifts.T) < STANDS_PX) >= STANDING_SHARE:
        return np.zeros(2)
    return np.asarray(np.median(shifts, axis=0))
