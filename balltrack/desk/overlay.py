"""What a solved camera says the picture shows: plate, boxes, foul lines, bases, fence, horizon as lines in pixels."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

import numpy as np

from balltrack.camera.model import Camera, project
from balltrack.field import named_points
from balltrack.lesson.load import Lesson
from balltrack.units import M_PER_FT, M_PER_IN, Floats

PLATE = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right", "plate_tip")
BASE_M = 15 * M_PER_IN  # a base's side (Official Baseball Rules 2.03; softball rules alike)
RUBBER_M = (24 * M_PER_IN, 6 * M_PER_IN)  # width, depth of the pitcher's plate (Official Baseball Rules 2.04)
NO_FENCE_M = 250 * M_PER_FT  # foul lines are drawn so far where there is no fence
STEP_M = 0.5  # between the points of a line: a bent lens bends lines
FAR_M = 1e6  # the horizon
ROOM_SHARE = 0.25  # of the picture's size: lines are drawn so far outside it


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the drawing."""

    kind: str  # plate | box | foul | base | fence | horizon
    points_px: tuple[tuple[float, float], ...]


def field_lines(camera: Camera, lesson: Lesson) -> tuple[Line, ...]:
    """All that can be seen, cut where it leaves the picture."""
    lines: list[Line] = []
    for kind, path_m in _paths(lesson, camera):
        lines += [Line(kind, piece) for piece in _pieces(project(path_m, camera), camera.size_px)]
    return tuple(lines)


def points_px(camera: Camera, lesson: Lesson) -> dict[str, tuple[float, float]]:
    """Where each named point is seen, if it is inside the picture."""
    points = points_of(lesson)
    pixels = project(np.array(list(points.values())), camera)
    width, height = camera.size_px
    return {
        name: (float(u), float(v))
        for name, (u, v) in zip(points, pixels, strict=True)
        if 0 <= u <= width - 1 and 0 <= v <= height - 1
    }


def points_of(lesson: Lesson) -> dict[str, tuple[float, float, float]]:
    """Every named point of this lesson's field. [m]"""
    return named_points(lesson.ball.kind, lesson.base_path_m, lesson.pitching_distance_m, lesson.fence)


def _paths(lesson: Lesson, camera: Camera) -> Iterator[tuple[str, Floats]]:
    """Kind, and (n, 3) points of a line on the field. [m]"""
    points = points_of(lesson)
    yield "plate", _line([points[name] for name in PLATE])
    for side in ("left", "right"):
        corners = ("inner_back", "inner_front", "outer_front", "outer_back", "inner_back")
        yield "box", _line([points[f"{side}_box_{corner}"] for corner in corners])
    fence = lesson.fence
    poles_m = (fence.distances_m[0], fence.distances_m[-1]) if fence else (NO_FENCE_M, NO_FENCE_M)
    for sign, pole_m in zip((-1.0, 1.0), poles_m, strict=True):
        yield "foul", _line([(0, 0, 0), (sign * pole_m / sqrt(2), pole_m / sqrt(2), 0)])
    yield from (("base", _line(corners)) for corners in _bases(lesson.base_path_m))
    half, rubber_m = RUBBER_M[0] / 2, lesson.pitching_distance_m
    ends = ((-half, 0), (half, 0), (half, RUBBER_M[1]), (-half, RUBBER_M[1]), (-half, 0))
    yield "base", _line([(x, rubber_m + y, 0) for x, y in ends])
    if fence:
        spray = np.radians(np.linspace(-45, 45, 181))
        reach = fence.distance_m(spray)
        yield "fence", np.column_stack([reach * np.sin(spray), reach * np.cos(spray), np.zeros_like(spray)])
    around = np.radians(np.linspace(-180, 180, 721))
    away = np.column_stack([np.sin(around), np.cos(around), np.zeros_like(around)])
    yield "horizon", np.array(camera.position_field_m) + FAR_M * away


def _bases(base_path_m: float) -> Iterator[list[tuple[float, float, float]]]:
    """The back corners of first and third lie on the foul lines, second lies about its point."""
    step, d = base_path_m / sqrt(2), BASE_M / sqrt(2)
    for x, y in ((step - d, step), (d - step, step), (0.0, 2 * step)):
        yield [(x + a, y + b, 0.0) for a, b in ((0, d), (d, 0), (0, -d), (-d, 0), (0, d))]


def _line(corners: list[tuple[float, float, float]]) -> Floats:
    """(n, 3) points along straight stretches between corners, close enough to bend as the lens bends them."""
    pieces = []
    for start, end in itertools.pairwise(corners):
        steps = max(2, int(np.ceil(np.linalg.norm(np.subtract(end, start)) / STEP_M)) + 1)
        share = np.linspace(0, 1, steps)[:, None]
        pieces.append(np.array(start) * (1 - share) + np.array(end) * share)
    return np.concatenate(pieces)


def _pieces(pixels: Floats, size_px: tuple[int, int]) -> Iterator[tuple[tuple[float, float], ...]]:
    """The stretches of (n, 2) pixels that lie in or about the picture."""
    size = np.array(size_px)
    near = np.all((pixels > -ROOM_SHARE * size) & (pixels < (1 + ROOM_SHARE) * size), axis=1)  # NaN is not
    runs = np.split(np.arange(len(pixels)), np.flatnonzero(np.diff(near.astype(int))) + 1)
    for run in runs:
        if near[run[0]] and len(run) > 1:
            yield tuple((round(float(u), 1), round(float(v), 1)) for u, v in pixels[run])
