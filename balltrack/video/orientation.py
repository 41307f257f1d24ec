"""How a stored picture is turned and mirrored to stand upright."""

import re
from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from av.sidedata.sidedata import SideDataContainer, Type
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from balltrack.units import Floats

Bytes = NDArray[np.uint8]

# One family of old phones writes the rotation into the track's name only, e.g. "htc_video_rotA-090".
_NAMED_ROTATION = re.compile(r"rotA-(000|090|180|270)$")


@dataclass(frozen=True, slots=True)
class Orientation:
    """Transpose first (rows become columns), then flip: all eight ways a phone can be held or mirrored."""

    transpose: bool = False
    flip_u: bool = False
    flip_v: bool = False

    @property
    def mirrored(self) -> bool:
        """Whether left and right are exchanged, as a front camera may store them."""
        return self.transpose ^ self.flip_u ^ self.flip_v

    @property
    def rotation_deg(self) -> int:
        """Clockwise turn that brings the stored picture (mirrored left to right first, if ``mirrored``) upright."""
        if self.transpose:
            return 270 if self.flip_u == self.mirrored else 90
        return 180 if self.flip_v else 0

    def size_px(self, stored_px: tuple[int, int]) -> tuple[int, int]:
        """Width and height once upright."""
        return (stored_px[1], stored_px[0]) if self.transpose else stored_px

    def upright_points(self, stored: Floats, stored_px: tuple[int, int]) -> Floats:
        """Turn (n, 2) pixels of the stored picture, ``stored_px`` wide and high, into pixels of the upright one."""
        width, height = self.size_px(stored_px)
        points = stored[:, ::-1].copy() if self.transpose else stored.copy()
        points[:, 0] = width - 1 - points[:, 0] if self.flip_u else points[:, 0]
        points[:, 1] = height - 1 - points[:, 1] if self.flip_v else points[:, 1]
        return points

    def stored_points(self, upright: Floats, stored_px: tuple[int, int]) -> Floats:
        """The inverse of `upright_points`."""
        width, height = self.size_px(stored_px)
        points = upright.copy()
        points[:, 0] = width - 1 - points[:, 0] if self.flip_u else points[:, 0]
        points[:, 1] = height - 1 - points[:, 1] if self.flip_v else points[:, 1]
        return points[:, ::-1].copy() if self.transpose else points

    def upright(self, plane: Bytes) -> Bytes:
        """Turn one plane, (h, w) -> (h, w) or (w, h). The very array, not a copy, where nothing is to be done."""
        codes = {(True, True): -1, (True, False): 1, (False, True): 0}  # cv2.flip's
        code = codes.get((self.flip_u, self.flip_v))
        if not self.transpose:
            return plane if code is None else np.asarray(cv2.flip(plane, code), dtype=np.uint8)
        turned = cv2.transpose(plane)
        if code is not None:
            cv2.flip(turned, code, dst=turned)  # in place: fresh memory costs as much as the turn
        return np.asarray(turned, dtype=np.uint8)


def from_rotation(clockwise_deg: int) -> Orientation:
    """Orientation of a picture to be turned by a multiple of 90 degrees."""
    return {
        0: Orientation(),
        90: Orientation(transpose=True, flip_u=True),
        180: Orientation(flip_u=True, flip_v=True),
        270: Orientation(transpose=True, flip_v=True),
    }[clockwise_deg % 360]


def from_matrix(matrix: NDArray[np.int32]) -> Orientation:
    """Orientation of a display matrix (9,), rounded to the nearest quarter turn.

    The matrix (a b u; c d v; x y w) sends stored (p, q) to (a p + c q + x, b p + d q + y).
    Source: ISO/IEC 14496-12 section 6.2.2 (from memory); checked against ffmpeg's own rotation in the tests.
    """
    a, b, c, d = (int(matrix[i]) for i in (0, 1, 3, 4))
    if abs(a) + abs(d) >= abs(b) + abs(c):
        return Orientation(transpose=False, flip_u=a < 0, flip_v=d < 0)
    return Orientation(transpose=True, flip_u=c < 0, flip_v=b < 0)


def orientation_of(frame: VideoFrame, track_name: str) -> Orientation:
    """Orientation of a clip from its first frame and its track's name."""
    side_data = cast(SideDataContainer, frame.side_data)  # PyAV's own stub calls it a dict of strings
    if Type.DISPLAYMATRIX in side_data:
        return from_matrix(np.frombuffer(bytes(side_data[Type.DISPLAYMATRIX]), dtype=np.int32, count=9))
    named = _NAMED_ROTATION.search(track_name)
    return from_rotation(int(named.group(1))) if named else Orientation()
