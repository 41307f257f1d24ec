"""The picture that shows a person that the phone was moved: this clip, and over it the field as it was marked."""

import itertools

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import Camera, project
from balltrack.field import named_points
from balltrack.units import Floats

PLATE = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right")
BOX = ("inner_back", "inner_front", "outer_front", "outer_back")
DARK, LIGHT = (0, 0, 0), (60, 220, 255)  # blue, green, red: a light line with a dark rim shows on grass, dirt and chalk
LINE_SHARE = 1 / 640  # of the width
SUBPIXEL_BITS = 4
STEPS = 24  # of a side: a bent lens bends lines
QUALITY = 85


def moved_jpeg(now: NDArray[np.uint8], marked: Camera, ball_kind: str) -> bytes:
    """Draw plate and batter's boxes where the marks have them over a picture in which they lie elsewhere.

    Parameters
    ----------
    now : (h, w) array
        Luma of the clip, of the size of the marked picture.
    marked : Camera
        As the marks give it.
    ball_kind : str
        One of ``field.BALL_KINDS``: whose rules draw the boxes.

    Returns
    -------
    bytes
        A JPEG file.
    """
    picture = np.asarray(cv2.cvtColor(now, cv2.COLOR_GRAY2BGR), dtype=np.uint8)
    width = max(round(LINE_SHARE * now.shape[1]), 1)
    outlines = [_seen(names, marked, ball_kind) for names in (PLATE, *_boxes())]
    for colour, thickness in ((DARK, 3 * width), (LIGHT, width)):
        for outline in outlines:
            points = np.rint(outline * 2**SUBPIXEL_BITS).astype(np.int32)
            cv2.polylines(picture, [points], True, colour, thickness, cv2.LINE_AA, SUBPIXEL_BITS)
    _, file = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return bytes(file)


def _boxes() -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(f"{side}_box_{corner}" for corner in BOX) for side in ("left", "right"))


def _seen(names: tuple[str, ...], camera: Camera, ball_kind: str) -> Floats:
    """(n, 2) outline in pixels, without what lies behind the camera. Its corners are alike on all fields."""
    points = named_points(ball_kind, base_path_m=1.0)
    corners = np.array([points[name] for name in (*names, names[0])])
    steps = np.linspace(0, 1, STEPS, endpoint=False)[:, None]
    path = np.concatenate([a + (b - a) * steps for a, b in itertools.pairwise(corners)])
    pixels = project(path, camera)
    return np.asarray(pixels[np.isfinite(pixels).all(axis=1)])
