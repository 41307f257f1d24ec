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
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.shaped import DAMAGED, array, covariance, number, rows, table, whole, word, words


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
        found = table(json.loads(read_plain(path)))
        width, height = (whole(each) for each in rows(found["size_px"]))
        values, marks = table(found["parameters"]), [table(mark) for mark in rows(found["marks"])]
        return SolvedCamera(
            camera=Camera(
                np.array([number(values[name]) for name in PARAMETERS]),
                covariance(found["covariance"], len(PARAMETERS)),
                (width, height),
            ),
            residuals_px=array([rows(mark["residual_px"]) for mark in marks], -1, 2),
            rejected=tuple(word(mark["name"]) for mark in marks if not mark["used"]),
            warnings=words(found["warnings"]),
            mark_sd_px=number(found["mark_sd_px"]),
        )
    except DAMAGED as error:
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
