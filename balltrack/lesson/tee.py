"""Where a tee stands: as a person says, or where its marked foot meets the ground."""

import numpy as np

from balltrack.camera.model import Camera, rays_field
from balltrack.lesson.folder import Clip
from balltrack.lesson.load import Lesson
from balltrack.units import Floats

FARTHEST_M = 3.0  # a tee further from the plate's tip is a wrong mark


def tee_base_m(clip: Clip, lesson: Lesson, camera: Camera) -> Floats | None:
    """(3,) foot of the tee that held this clip's ball; None without a tee, or where its place is not known. [m]"""
    if clip.delivery != "tee":
        return None
    for mark in lesson.marks:
        if mark.name == "tee_base":
            return np.array(mark.point_field_m, float)
    return None if lesson.tee_base_px is None else _on_ground(lesson.tee_base_px, camera)


def _on_ground(pixel_px: tuple[float, float], camera: Camera) -> Floats | None:
    """Where the line of sight meets the ground; None where that is not near the plate."""
    lens_m = camera.parameters[3:6]
    (direction,) = rays_field(np.array([pixel_px]), camera)
    if not direction[2] < 0:  # level, upward or NaN: it never meets the ground
        return None
    place = lens_m - lens_m[2] / direction[2] * direction
    return place if np.hypot(place[0], place[1]) < FARTHEST_M else None
