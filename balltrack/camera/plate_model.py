"""The edges of home plate and of the batter's boxes, each a straight line between two named points of the ground."""

from dataclasses import dataclass

import numpy as np

from balltrack.field import named_points
from balltrack.units import Floats

ANY_BASE_PATH_M = 20.0  # plate and boxes do not depend on it


@dataclass(frozen=True, slots=True, eq=False)
class ModelEdge:
    """One edge, bright on its inner side and dark on its outer."""

    ends: tuple[str, str]  # the named points that it joins
    ends_field_m: Floats  # (2, 3)
    outward_field: Floats  # (3,) unit vector in the ground, across the edge, from the white to the ground
    chalk: bool  # a line's outside edge, dark again a hand farther in; else the plate's

    @property
    def name(self) -> str:
        """Both ends."""
        return "-".join(self.ends)


PLATE_CORNERS = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right")


def plate_outline_m() -> Floats:
    """(5, 2) corners of the plate in the ground, from the tip clockwise as seen from above. [m]"""
    points = named_points("baseball", ANY_BASE_PATH_M)
    return np.array([points[name][:2] for name in PLATE_CORNERS])


def plate_edges() -> tuple[ModelEdge, ...]:
    """The five edges of the plate, which all rule books draw alike."""
    return _loop(PLATE_CORNERS, "baseball", chalk=False)


def box_edges(ball_kind: str, side: str) -> tuple[ModelEdge, ...]:
    """The four outside edges of the ``left`` or ``right`` batter's box."""
    corners = ("inner_back", "inner_front", "outer_front", "outer_back")
    return _loop(tuple(f"{side}_box_{corner}" for corner in corners), ball_kind, chalk=True)


def _loop(names: tuple[str, ...], ball_kind: str, *, chalk: bool) -> tuple[ModelEdge, ...]:
    places = named_points(ball_kind, ANY_BASE_PATH_M)
    points = np.array([places[name] for name in names])
    middle = points.mean(axis=0)
    edges = []
    for i, name in enumerate(names):
        j = (i + 1) % len(names)
        along = points[j] - points[i]
        across = np.array([along[1], -along[0], 0.0]) / np.linalg.norm(along)
        outward = across * np.sign(across @ (points[i] - middle))
        edges.append(ModelEdge((name, names[j]), points[[i, j]], outward, chalk))
    return tuple(edges)
