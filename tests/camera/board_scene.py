"""Pictures of the printed board through a known lens, made without the package's own projection."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.board import COLUMNS, ROWS, PrintedBoard
from balltrack.units import Floats

SQUARE_M = 0.025
BOARD = PrintedBoard(SQUARE_M)
DOTS = 40  # of the board's picture, a square's side
RIM = 1.0  # white paper around the board, in squares


@dataclass(frozen=True)
class Lens:
    """OpenCV's own words for a lens: what the films are made with, and what must be found."""

    focal_px: float
    k1: float
    centre_px: tuple[float, float]
    size_px: tuple[int, int]

    @property
    def matrix(self) -> Floats:
        return np.array([[self.focal_px, 0, self.centre_px[0]], [0, self.focal_px, self.centre_px[1]], [0, 0, 1.0]])

    @property
    def distortion(self) -> Floats:
        return np.array([self.k1, 0, 0, 0, 0.0])


@dataclass(frozen=True)
class Pose:
    """Board to camera: rotation vector and shift [m]."""

    turn: Floats
    shift_m: Floats


def poses(count: int, seed: int, tilt_rad: float = 0.6, far_m: tuple[float, float] = (0.28, 0.5)) -> list[Pose]:
    """Boards tilted up to ``tilt_rad`` about any axis in the board, turned in their plane, all over the picture."""
    random = np.random.default_rng(seed)
    middle = SQUARE_M * np.array([COLUMNS / 2, ROWS / 2, 0.0])
    found = []
    for i in range(count):
        axis_rad, tilt = random.uniform(0, 2 * np.pi), tilt_rad * (0.5 + 0.5 * random.random())
        tilted = cv2.Rodrigues(tilt * np.array([np.cos(axis_rad), np.sin(axis_rad), 0.0]))[0]
        turned = cv2.Rodrigues(np.array([0.0, 0.0, np.pi / 2 + random.normal(0, 0.15)]))[0]
        far = random.uniform(*far_m)
        place = far * np.array([(-0.3, 0.0, 0.3)[i % 3], (-0.12, 0.12)[i // 3 % 2], 1.0])
        rotation = np.asarray(tilted @ turned, dtype=float)
        found.append(Pose(cv2.Rodrigues(rotation)[0].ravel().astype(float), place - rotation @ middle))
    return found


def picture(pose: Pose, lens: Lens, finer: int = 2) -> NDArray[np.uint8]:
    """(h, w) luma 16 to 235: each dot's ray, straightened by OpenCV, meets the board's plane; averaged over dots."""
    width, height = lens.size_px
    rays = _rays(lens, finer)
    rotation = np.asarray(cv2.Rodrigues(pose.turn)[0], dtype=float)
    # A ray s r meets the board at R' (s r - t), where that has no third part.
    onto = rays @ rotation
    start = rotation.T @ pose.shift_m
    on_board = (onto[:, :2] * (start[2] / onto[:, 2:]) - start[:2]) / SQUARE_M + RIM  # squares from the sheet's corner
    sheet_at = (on_board * DOTS - 0.5).astype(np.float32).reshape(height * finer, width * finer, 2)
    seen = cv2.remap(_sheet(), sheet_at[..., 0], sheet_at[..., 1], cv2.INTER_LINEAR, borderValue=110.0)
    return np.asarray(cv2.resize(seen, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8)


@cache
def _rays(lens: Lens, finer: int) -> Floats:
    """(n, 3) where each dot of the picture looks, by OpenCV."""
    width, height = lens.size_px
    u, v = np.meshgrid((np.arange(width * finer) + 0.5) / finer - 0.5, (np.arange(height * finer) + 0.5) / finer - 0.5)
    dots = np.column_stack([u.ravel(), v.ravel()])
    straight = cv2.undistortPoints(dots[:, None], lens.matrix, lens.distortion)[:, 0]
    return np.column_stack([straight, np.ones(len(straight))])


@cache
def _sheet() -> NDArray[np.uint8]:
    size = (round((COLUMNS + 2 * RIM) * DOTS), round((ROWS + 2 * RIM) * DOTS))
    board = BOARD.layout.generateImage(size, None, round(RIM * DOTS))
    return np.asarray(30 + (board > 127) * 180.0, dtype=np.uint8)


def film(shown: list[Pose], lens: Lens, frames_each: int, seed: int, noise: float = 2.0) -> NDArray[np.uint8]:
    """(n, h, w) frames: the board rests in each pose, with the sensor's noise."""
    random = np.random.default_rng(seed)
    frames = []
    grain = (noise * random.standard_normal(lens.size_px[::-1], np.float32)).round().astype(np.int16)
    for pose in shown:
        clean = picture(pose, lens).astype(np.int16)
        for _ in range(frames_each):
            fresh = np.roll(grain, tuple(random.integers(0, lens.size_px[1], 2)), axis=(0, 1))
            frames.append(np.clip(clean + fresh, 16, 235).astype(np.uint8))
    return np.asarray(frames)
