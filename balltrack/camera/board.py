"""Flat boards of squares whose corners tell a lens: the one that this program prints, and any plain chessboard."""

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.errors import CalibrationError
from balltrack.units import Floats

if TYPE_CHECKING:
    from cv2.aruco import CharucoBoard, CharucoDetector

Bytes = NDArray[np.uint8]

COLUMNS, ROWS = 7, 10  # squares of the printed board: the shape of a sheet of paper
MARKER_SHARE = 0.75  # side of a marker over that of its square; the white around it is what it is found by
FEWEST_ACROSS = 3  # cv2.findChessboardCorners takes no fewer
FEWEST_CORNERS = 12  # of a board partly in the picture: with fewer its pose is loose
REFINE_ZONE = (-1, -1)  # cv2.cornerSubPix: no dead zone


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """The corners of a board that one picture shows."""

    points_m: Floats  # (n, 3) on the board, z = 0
    pixels: Floats  # (n, 2) [px]
    numbers: NDArray[np.intp]  # (n,) which of the board's corners they are


@dataclass(frozen=True)
class PrintedBoard:
    """The board of ``balltrack lens board``: a chessboard whose white squares carry numbered markers.

    The markers say which corner is which, so that a hand or the picture's rim may hide a part of it.
    """

    square_m: float

    @cached_property
    def layout(self) -> "CharucoBoard":
        markers = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
        return cv2.aruco.CharucoBoard((COLUMNS, ROWS), self.square_m, MARKER_SHARE * self.square_m, markers)

    @cached_property
    def _detector(self) -> "CharucoDetector":
        return cv2.aruco.CharucoDetector(self.layout)

    def find(self, luma: Bytes) -> Corners | None:
        """The corners in an (h, w) picture; None where fewer than ``FEWEST_CORNERS`` are seen."""
        found: tuple[Any, ...] = self._detector.detectBoard(luma)  # Nones where there is no board; its types say not so
        pixels, numbers = found[:2]
        if numbers is None or len(numbers) < FEWEST_CORNERS:
            return None
        which = np.asarray(numbers, dtype=np.intp).ravel()
        points_m = np.asarray(self.layout.getChessboardCorners(), dtype=np.float64)[which]
        return Corners(points_m, np.asarray(pixels, dtype=np.float64).reshape(-1, 2), which)


@dataclass(frozen=True)
class Chessboard:
    """Any plain chessboard, by its inner corners: one less each way than it has squares."""

    columns: int
    rows: int
    square_m: float

    @cached_property
    def points_m(self) -> Floats:
        """(n, 3) inner corners, row by row. [m]"""
        rows, columns = np.divmod(np.arange(self.columns * self.rows), self.columns)
        return np.asarray(self.square_m * np.column_stack([columns, rows, np.zeros(len(rows))]))

    def find(self, luma: Bytes) -> Corners | None:
        """The corners in an (h, w) picture; None where not all of them are seen."""
        flags = cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_FAST_CHECK
        found, corners = cv2.findChessboardCorners(luma, (self.columns, self.rows), flags=flags)
        if not found:
            return None
        pixels = np.asarray(corners, dtype=np.float32).reshape(-1, 1, 2)
        half = int(np.clip(0.4 * self._square_px(pixels), 2, 15))  # a window that holds no second corner
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-3)
        cv2.cornerSubPix(luma, pixels, (half, half), REFINE_ZONE, stop)
        return Corners(self.points_m, pixels.reshape(-1, 2).astype(np.float64), np.arange(len(pixels)))

    def _square_px(self, pixels: NDArray[np.float32]) -> float:
        """The shortest side of a square in the picture."""
        grid = pixels.reshape(self.rows, self.columns, 2)
        sides = [np.linalg.norm(np.diff(grid, axis=axis), axis=-1).min() for axis in (0, 1)]
        return float(min(sides))


Board = PrintedBoard | Chessboard


def chessboard_of(words: str, square_m: float) -> Chessboard:
    """A chessboard by its inner corners across and down, such as 9x6. Raises CalibrationError for other words."""
    match = re.fullmatch(r"\s*(\d{1,2})\s*[x×]\s*(\d{1,2})\s*", words.casefold())
    if match is None or min(map(int, match.groups())) < FEWEST_ACROSS:
        raise CalibrationError(
            f"a chessboard is given by its inner corners across and down, {FEWEST_ACROSS} or more each way, such as "
            f"9x6, not {words!r}"
        )
    return Chessboard(int(match[1]), int(match[2]), square_m)
