"""A person's click on a corner of plate or chalk, moved to where the corner truly is."""

from dataclasses import replace

import numpy as np

from balltrack.camera.corner import ProposedMark, corner_of
from balltrack.camera.edge_line import find_edge
from balltrack.camera.model import Camera, rays_field
from balltrack.camera.plate_model import ModelEdge, box_edges, plate_edges
from balltrack.camera.still import Still
from balltrack.units import Floats

REACH_SHARE = 6.0 / 1920  # of the longer side: how far a careful click may lie from its corner
LOOSEST_SD_SHARE = 1.2 / 1920  # a corner known less well is left where it was clicked
LEG_M = 0.6  # of an edge, from its corner on, that is looked at


def refine_mark(
    still: Still, name: str, pixel_px: tuple[float, float], camera: Camera | None = None
) -> ProposedMark | None:
    """Move a person's click to the chalk's true corner.

    Parameters
    ----------
    still : Still
    name : str
        The named point that was clicked.
    pixel_px : (float, float)
        Where.
    camera : Camera, optional
        As solved from the marks so far: tells in which directions the edges run. Without it the picture alone places
        a blunt corner no better than a careful click does, so nothing is moved.

    Returns
    -------
    ProposedMark or None
        None where no clear corner is near, and for points that are no corners of plate or chalk.
    """
    u, v = pixel_px
    width, height = still.size_px
    if not (0 <= u <= width - 1 and 0 <= v <= height - 1):
        return None
    edges = _edges_at(name)
    if camera is None or not edges:
        return None
    return _by_edges(still, name, pixel_px, camera, edges)


def _edges_at(name: str) -> tuple[ModelEdge, ...]:
    """The two edges that join in a point. The rule books' boxes differ in size, not in how their edges run."""
    edges = (*plate_edges(), *box_edges("baseball", "left"), *box_edges("baseball", "right"))
    return tuple(edge for edge in edges if name in edge.ends)


def _by_edges(
    still: Still, name: str, pixel_px: tuple[float, float], camera: Camera, edges: tuple[ModelEdge, ...]
) -> ProposedMark | None:
    """Both edges looked for from the click on, in the directions in which the camera sees them."""
    corner_m = _on_ground_m(pixel_px, camera)
    if corner_m is None:
        return None
    luma, longer = still.luma.astype(np.float32), max(still.size_px)
    reach_px = REACH_SHARE * longer
    lines = []
    for edge in edges:
        end = edge.ends.index(name)
        along = edge.ends_field_m[1 - end] - edge.ends_field_m[end]
        leg = min(LEG_M, float(np.linalg.norm(along))) * along / np.linalg.norm(along)
        ends_m = np.array([corner_m, corner_m + leg] if end == 0 else [corner_m + leg, corner_m])
        line = find_edge(luma, replace(edge, ends_field_m=ends_m), camera.parameters, reach_px)
        lines += [line] if line is not None else []
    mark = corner_of(name, lines, camera.parameters)
    if mark is None or mark.sd_px > LOOSEST_SD_SHARE * longer:
        return None
    return mark if np.hypot(*np.subtract(mark.pixel_px, pixel_px)) <= 2 * reach_px else None


def _on_ground_m(pixel_px: tuple[float, float], camera: Camera) -> Floats | None:
    """(3,) the place on the ground that a pixel shows; None above the horizon."""
    ray = rays_field(np.array([pixel_px]), camera)[0]
    if not ray[2] < -1e-6:
        return None
    return np.asarray(camera.position_field_m - ray * camera.position_field_m[2] / ray[2])
