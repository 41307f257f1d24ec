"""Where things stand on the field, in metres: origin at the plate's rear tip, x to first base side, y to second.

Sources: Official Baseball Rules 2.02 (plate 17 in wide, 8.5 in sides; depth taken as 17 in: a square tip); softball
box 3 x 7 ft, 6 in from the plate, front line 4 ft ahead of the plate's centre; baseball box 4 x 6 ft centred on the
plate; first and third base inside the foul lines, second base on its centre.
"""

from dataclasses import dataclass

import numpy as np

from .arrays import FT, IN, Floats

PLATE = np.array([[0.0, 0.0], [-8.5, 8.5], [-8.5, 17.0], [8.5, 17.0], [8.5, 8.5]]) * IN


@dataclass(frozen=True, slots=True)
class Diamond:
    """A field's sizes."""

    softball: bool
    base_path_m: float
    pitching_m: float
    fence_m: float
    fence_height_m: float


def box(diamond: Diamond, side: int) -> tuple[float, float, float, float]:
    """Inner x, outer x, back y, front y of a batter's box; side -1 is the catcher's left."""
    if diamond.softball:
        front = 8.5 * IN + 4.0 * FT
        return side * 14.5 * IN, side * (14.5 * IN + 3.0 * FT), front - 7.0 * FT, front
    return side * 14.5 * IN, side * (14.5 * IN + 4.0 * FT), 8.5 * IN - 3.0 * FT, 8.5 * IN + 3.0 * FT


def named_points(diamond: Diamond) -> dict[str, Floats]:
    """Every point that a person can mark by name, (3,) metres."""
    names = ("plate_tip", "plate_left", "plate_front_left", "plate_front_right", "plate_right")
    points = {name: np.array([x, y, 0.0]) for name, (x, y) in zip(names, PLATE, strict=True)}
    for name, side in (("left", -1), ("right", 1)):
        inner, outer, back, front = box(diamond, side)
        for across, x in (("inner", inner), ("outer", outer)):
            for along, y in (("back", back), ("front", front)):
                points[f"{name}_box_{across}_{along}"] = np.array([x, y, 0.0])
    half = np.sqrt(0.5)
    length, fence = diamond.base_path_m * half, diamond.fence_m * half
    points["first_base_back"] = np.array([length, length, 0.0])
    points["third_base_back"] = np.array([-length, length, 0.0])
    points["second_base_center"] = np.array([0.0, 2.0 * length, 0.0])
    points["pitchers_plate_front"] = np.array([0.0, diamond.pitching_m, 0.0])
    points["left_pole_base"] = np.array([-fence, fence, 0.0])
    points["right_pole_base"] = np.array([fence, fence, 0.0])
    return points
