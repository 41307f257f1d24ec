"""Where the coach puts the phone: a place, then aimed so that plate, boxes and the first flight are in the picture."""

from collections.abc import Callable

import numpy as np

from .arrays import Floats
from .diamond import box
from .optics import Optics, look, project
from .scene_spec import SIZES, SceneSpec, diamond_of

MARGIN = {"side": 0.03, "left45": 0.1, "right45": 0.1}  # share of the width outside the boxes, on the near-foul side


def camera_of(spec: SceneSpec) -> Optics:
    """The lesson's true camera."""
    width, height = SIZES[spec.lines]
    focal = width / 2.0 / np.tan(np.radians(spec.hfov_deg) / 2.0)
    middle = ((width - 1) / 2.0 + spec.principal_px[0], (height - 1) / 2.0 + spec.principal_px[1])
    position = _position(spec)

    def build(yaw: float, pitch: float) -> Optics:
        turn = look(yaw, pitch, np.radians(spec.roll_deg))
        return Optics(focal, middle, spec.k1, turn, position, (width, height), spec.readout_s, spec.exposure_s)

    return _aim(spec, position, build)


def _position(spec: SceneSpec) -> Floats:
    open_side = 1.0 if spec.bats == "right" else -1.0
    reach, aside = spec.distance_m, spec.camera_aside_m
    middle_y = 0.3
    if spec.place == "side":
        return np.array([open_side * reach, middle_y + 1.2 + aside, spec.camera_height_m])
    if spec.place in ("left45", "right45"):
        side = -1.0 if spec.place == "left45" else 1.0
        angle = np.radians(45.0) + 0.12 * aside
        return np.array([side * reach * np.sin(angle), middle_y - reach * np.cos(angle), spec.camera_height_m])
    return np.array([aside, middle_y - reach, spec.camera_height_m])


def _aim(spec: SceneSpec, position: Floats, build: Callable[[float, float], Optics]) -> Optics:
    """Turn until both boxes lie in the picture with a small margin, leaving the rest for the flight."""
    width, height = SIZES[spec.lines]
    corners = _corners(spec)
    yaw, pitch = float(np.arctan2(-position[0], 0.3 - position[1])), 0.0
    for _ in range(30):
        optics = build(yaw, pitch)
        view = project(corners, optics)
        low, left, right = np.nanmax(view[:, 1]), np.nanmin(view[:, 0]), np.nanmax(view[:, 0])
        if spec.place in ("behind", "high", "low", "screen"):
            aside = 0.5 * (left + right - width)
        elif position[0] > 0:  # from the first base side the field lies to the right of the plate
            aside = left - MARGIN[spec.place] * width
        else:
            aside = right - (1.0 - MARGIN[spec.place]) * width
        pitch -= 0.6 * float(low - 0.95 * height) / optics.focal_px
        yaw += 0.6 * float(aside) / optics.focal_px
    return build(yaw, pitch)


def _corners(spec: SceneSpec) -> Floats:
    diamond = diamond_of(spec)
    points = [[x, y, 0.0] for side in (-1, 1) for x in box(diamond, side)[:2] for y in box(diamond, side)[2:]]
    return np.array(points)
