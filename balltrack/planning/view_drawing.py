"""What the phone sees from a place: plate, boxes, foul lines, bases, horizon, and the hits."""

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from balltrack.camera.model import project_parameters, rotation_matrices
from balltrack.field import named_points
from balltrack.planning.people import Body
from balltrack.planning.scene import Scene
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, FAINT, SKY, GROUND, BODY = "#14201f", "#77837f", "#f4f8fb", "#e3e0d6", "#b9b6ac"
BASES = ("first_base_back", "second_base_center", "third_base_back")
FAR_M = 120.0


def draw_view(axes: "Axes", camera: Floats, scene: Scene) -> None:
    """Draw the phone's picture as (11,) ``camera`` gives it."""
    from matplotlib.patches import Polygon

    width, height = scene.phone.size_px
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_facecolor(SKY)
    axes.fill_between([0, width], _horizon_px(camera, width), height, color=GROUND, zorder=0)
    for body in scene.people:
        axes.add_patch(Polygon(_upright(body, camera), facecolor=BODY, zorder=2.5))
    for sign in (-1.0, 1.0):
        _draw_line(axes, np.array([[0.0, 0.0, 0.0], [sign * FAR_M, FAR_M, 0.0]]), camera)
    for box in scene.ground.boxes_m:
        _draw_line(axes, np.vstack([box, box[:1]]), camera)
    plate = project_parameters(scene.ground.plate_m, camera)
    if np.isfinite(plate).all():
        axes.add_patch(Polygon(plate, facecolor="white", edgecolor=INK, linewidth=1.2, zorder=2))
    points = named_points(scene.ground.ball.kind, scene.ground.base_path_m)
    bases = project_parameters(np.array([points[name] for name in BASES]), camera)
    axes.plot(
        *bases.T, linestyle="none", marker="D", markersize=4, markerfacecolor="white", markeredgecolor=INK, zorder=2
    )
    for hit in scene.hits:
        axes.plot(
            *project_parameters(hit.points_m, camera).T, color=INK, linewidth=0.6, marker="o", markersize=1.8, zorder=3
        )


def _horizon_px(camera: Floats, width: int) -> Floats:
    """(2,) rows at which the horizon crosses the left and the right edge: a level phone's is level."""
    ahead = rotation_matrices(camera[:3])[2]
    away = camera[3:6] + 1e6 * np.array([[ahead[0], ahead[1], 0.0]]) / np.hypot(ahead[0], ahead[1])
    return np.repeat(project_parameters(away, camera)[:, 1], 2)


def _draw_line(axes: "Axes", corners_m: Floats, camera: Floats) -> None:
    """Straight on the field, so finely cut that the part behind the lens drops out."""
    part = np.linspace(0.0, 1.0, 400)[:, None] ** 2
    for start, end in pairwise(corners_m):
        axes.plot(*project_parameters(start + part * (end - start), camera).T, color=INK, linewidth=0.9, zorder=1)


def _upright(body: Body, camera: Floats) -> Floats:
    """(n, 2) outline of a cylinder on the ground as a flat shape that faces the lens. [px]"""
    way = np.array([body.x_m, body.y_m]) - camera[3:5]
    across = body.radius_m * np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9)
    top = body.height_m
    corners = [(-1, 0.0), (-1, top - 0.1), (-0.5, top), (0.5, top), (1, top - 0.1), (1, 0.0)]
    return project_parameters(
        np.array([[body.x_m + s * across[0], body.y_m + s * across[1], z] for s, z in corners]), camera
    )
