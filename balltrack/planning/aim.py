"""Which way a phone is turned at a place, so that the plate, the boxes and the most of the hits stay in the picture."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.contact import CONTACT_M
from balltrack.planning.people import hidden
from balltrack.planning.scene import Scene
from balltrack.track.follow import SMALLEST_PX
from balltrack.units import Floats

PLATE_CORNERS = 5
LOOKED_AT_M = (0.0, 0.3)  # about the middle of the plate
PANS = np.linspace(-0.42, 0.42, 13)  # of the field of view, away from the plate
TILTS_RAD = np.radians(np.linspace(-30.0, 12.0, 15))
RIM = 0.02  # of the picture's height: nobody aims more closely
FIRST_S = 0.6  # after contact: what is seen later adds little
# A mark or a moment of a hit lost, which is worse? The marks hold for all swings: together they weigh twice as much as
# the hits; the plate and the ball at contact must be there (judgement, no source).
MARKS_WEIGHT, MUST_WEIGHT = 2.0, 5.0
# Of aims that show as much, the one with the ball nearest to the picture's middle: there lenses bend least, and a hit
# that goes further than expected is still seen.
MIDDLE_WEIGHT = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Stance:
    """A phone at a place, turned the best way."""

    camera: Floats  # (11,)
    marks_m: Floats  # (n, 3) marks inside the picture
    whole_plate: bool  # all five corners, and the ball at contact, are inside
    seen: tuple[NDArray[np.bool_], ...]  # for each hit, which of its rows show the ball


def aim(place_m: Floats, scene: Scene) -> Stance:
    """Turn a level phone at (3,) ``place_m`` the best of many ways."""
    phone, marks_m = scene.phone, scene.ground.marks_m
    away = np.array(LOOKED_AT_M) - place_m[:2]
    pans = np.arctan2(*away) + PANS * phone.fov_rad
    cameras = phone.level_cameras(place_m, np.repeat(pans, len(TILTS_RAD)), np.tile(TILTS_RAD, len(pans)))
    rim_px = RIM * phone.lines
    marked = inside(project_parameters(marks_m, cameras), phone.size_px, rim_px)
    there = inside(project_parameters(CONTACT_M[None], cameras), phone.size_px, rim_px)
    must = np.concatenate([marked[:, :PLATE_CORNERS], there], axis=1).min(axis=1)
    clear = [~hidden(hit.points_m, place_m, scene.people) for hit in scene.hits]
    points = np.concatenate([hit.points_m for hit in scene.hits])
    weight = np.concatenate([hit.rows * (hit.time_s <= FIRST_S) for hit in scene.hits]) * np.concatenate(clear)
    pixels = project_parameters(points, cameras)
    shown = inside(pixels, phone.size_px, 0.0)
    share = (shown - MIDDLE_WEIGHT * _off_middle(pixels, phone.size_px)) @ weight / max(float(weight.sum()), 1e-9)
    scores = share + MARKS_WEIGHT * marked.mean(axis=1) + MUST_WEIGHT * must
    best = int(np.argmax(scores))
    ends = np.cumsum([len(hit.time_s) for hit in scene.hits])[:-1]
    wide_px = apparent_diameter_px(points, cameras[best], scene.ground.ball.diameter_m)
    clear_view = np.asarray(shown[best] & (np.nan_to_num(wide_px) >= SMALLEST_PX))
    seen = tuple(rows & free for rows, free in zip(np.split(clear_view, ends), clear, strict=True))
    return Stance(cameras[best], marks_m[marked[best]], bool(must[best]), seen)


def inside(pixels: Floats, size_px: tuple[int, int], rim_px: float) -> NDArray[np.bool_]:
    """(...,) bool of (..., 2) pixels inside the picture, no nearer than ``rim_px`` to its edge; NaN is outside."""
    return np.asarray(np.all((pixels >= rim_px) & (pixels <= np.array(size_px) - 1 - rim_px), axis=-1))


def _off_middle(pixels: Floats, size_px: tuple[int, int]) -> Floats:
    """(c, n) distance of (c, n, 2) pixels from the picture's middle, 0 to 1; 1 outside and behind."""
    size = np.array(size_px)
    off = np.abs(pixels - 0.5 * (size - 1)) / (0.5 * size)
    return np.asarray(np.clip(np.nan_to_num(np.max(off, axis=-1), nan=1.0), 0.0, 1.0))
