"""The solved camera as a file: parameters with their names and covariance, and how well each mark agrees."""

import json
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from balltrack.camera.marks import Mark
from balltrack.camera.model import PARAMETERS, Camera, fov_of_focal_rad
from balltrack.camera.solve import SolvedCamera
from balltrack.errors import RecordError
from balltrack.records.atomic import write_atomic


def write_camera(path: Path, solved: SolvedCamera, marks: Sequence[Mark]) -> None:
    """Write camera.json. ``marks`` are those that the camera was solved from, in the same order."""
    write_atomic(path, camera_json(solved, marks))


def read_camera(path: Path) -> SolvedCamera:
    """Read camera.json back.

    Raises
    ------
    RecordError
        If it is missing or cannot be read.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        width, height = found["size_px"]
        return SolvedCamera(
            camera=Camera(
                np.array([found["parameters"][name] for name in PARAMETERS], dtype=float),
                np.array(found["covariance"], dtype=float),
                (int(width), int(height)),
            ),
            residuals_px=np.array([mark["residual_px"] for mark in found["marks"]], dtype=float).reshape(-1, 2),
            rejected=tuple(mark["name"] for mark in found["marks"] if not mark["used"]),
            warnings=tuple(found["warnings"]),
            mark_sd_px=float(found["mark_sd_px"]),
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RecordError(f"{path} cannot be read ({error}); measure the lesson again: balltrack measure") from None


def camera_json(solved: SolvedCamera, marks: Sequence[Mark]) -> str:
    """The camera as JSON text. Names, units and order of the parameters are those of ``camera.model.PARAMETERS``."""
    camera = solved.camera
    values = dict(zip(PARAMETERS, camera.parameters.tolist(), strict=True))
    content = {
        "size_px": list(camera.size_px),
        "parameters": values,
        "covariance_order": list(PARAMETERS),
        "covariance": camera.covariance.tolist(),
        "horizontal_fov_deg": math.degrees(fov_of_focal_rad(values["focal_px"], camera.size_px[0])),
        "mark_sd_px": solved.mark_sd_px,
        "marks": [
            {
                "name": mark.name,
                "point_field_m": list(mark.point_field_m),
                "pixel_px": list(mark.pixel_px),
                "residual_px": residual,
                "used": mark.name not in solved.rejected,
            }
            for mark, residual in zip(marks, solved.residuals_px.tolist(), strict=True)
        ],
        "warnings": list(solved.warnings),
    }
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
