"""A corner of plate or chalk: where two lines that were fitted to its edges meet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.camera.edge_line import EdgeLine
from balltrack.camera.model import project_parameters
from balltrack.units import Floats

FARTHEST_REACH = 0.25  # of an edge, from where it was last seen to its corner
LEAST_ANGLE_SINE = 0.05  # between two edges whose meeting can be told


@dataclass(frozen=True, slots=True)
class ProposedMark:
    """A named point of the field, and where in the picture it was found."""

    name: str
    pixel_px: tuple[float, float]
    sd_px: float  # one standard deviation along u or v


def corner_of(name: str, lines: Sequence[EdgeLine], parameters: Floats) -> ProposedMark | None:
    """The meeting of the two of ``lines`` that join in the named point; None where not both were seen near it.

    It is told from where the camera with ``parameters``, from which the lines were seen, puts the corner: so an edge
    may be bent by the lens.
    """
    meeting = [(line, line.edge.ends.index(name)) for line in lines if name in line.edge.ends]
    if len(meeting) != 2 or any(np.min(np.abs(line.shares - end)) > FARTHEST_REACH for line, end in meeting):
        return None
    (line, end), (other, other_end) = meeting
    normals = np.array([line.normals[-end], other.normals[-other_end]])
    if abs(np.linalg.det(normals)) < LEAST_ANGLE_SINE:
        return None
    outs = np.array([line.out_px(end), other.out_px(other_end)])
    inverse = np.linalg.inv(normals)
    pixel = project_parameters(line.edge.ends_field_m[[end]], parameters)[0] + inverse @ outs[:, 0]
    covariance = inverse @ np.diag(outs[:, 1] ** 2) @ inverse.T
    return ProposedMark(name, (float(pixel[0]), float(pixel[1])), float(np.sqrt(np.trace(covariance) / 2)))
