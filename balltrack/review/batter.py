"""Where batter, bat and plate are in a picture: what a crop must hold and words must not cover."""

import numpy as np

from balltrack.camera.model import Camera, project
from balltrack.review.sheet import Framing
from balltrack.units import Floats

# A box about a right-handed batter, his bat at full reach and the plate, in the field frame [m]: by eye.
SIDE_M, ALONG_M, HEIGHT_M = (-1.8, 0.65), (-0.9, 1.3), (0.0, 2.2)


def batter_box_px(camera: Camera, bats: str) -> Floats:
    """(2, 2) least and greatest pixel of the batter's surroundings; the whole picture where they cannot be seen."""
    side = 1.0 if bats == "right" else -1.0
    corners_m = np.array([[side * x, y, z] for x in SIDE_M for y in ALONG_M for z in HEIGHT_M])
    pixels = project(corners_m, camera)
    found = pixels[np.isfinite(pixels).all(axis=1)]
    limits = np.array([[0.0, 0.0], camera.size_px])
    if not len(found):
        return limits
    box = np.clip([found.min(axis=0), found.max(axis=0)], limits[0], limits[1])
    return box if (box[1] - box[0] >= 2).all() else limits


def batter_framing(camera: Camera, bats: str, size_px: tuple[int, int], room: float = 1.0) -> Framing:
    """The part of the picture about the batter, ``room`` times as large as need be, shown in ``size_px``.

    It has the shape of ``size_px`` unless the picture is too small for that; then it is the largest part that has.
    """
    box = batter_box_px(camera, bats)
    middle, need = box.mean(axis=0), room * (box[1] - box[0])
    aspect, (width, height) = size_px[0] / size_px[1], camera.size_px
    shown_w = min(max(need[0], need[1] * aspect), width, height * aspect)
    crop_w, crop_h = _even(shown_w), _even(shown_w / aspect)
    left = min(max(round(middle[0] - crop_w / 2), 0), width - crop_w) // 2 * 2
    top = min(max(round(middle[1] - crop_h / 2), 0), height - crop_h) // 2 * 2
    return Framing((left, top, crop_w, crop_h), size_px)


def _even(length: float) -> int:
    return max(int(length) // 2 * 2, 2)
