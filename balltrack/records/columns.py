"""A swing's fields as columns of a table for programs: one number a column, SI, named as the fields."""

from collections.abc import Mapping
from typing import Any, get_args, get_type_hints

from balltrack.records.swing import Swing

# Where a table has one column for each number of a vector or matrix. Of the covariance, which is symmetric, three.
PARTS: dict[str, dict[str, tuple[int, ...]]] = {
    "contact_m": {"contact_x_m": (0,), "contact_y_m": (1,), "contact_z_m": (2,)},
    "contact_sd_m": {"contact_x_sd_m": (0,), "contact_y_sd_m": (1,), "contact_z_sd_m": (2,)},
    "landing_m": {"landing_x_m": (0,), "landing_y_m": (1,)},
    "pitch_plate_m": {"pitch_plate_x_m": (0,), "pitch_plate_z_m": (1,)},
    "pitch_plate_sd_m": {"pitch_plate_x_sd_m": (0,), "pitch_plate_z_sd_m": (1,)},
    "contact_off_pitch_m": {"contact_off_pitch_x_m": (0,), "contact_off_pitch_up_m": (1,)},
    "contact_off_pitch_sd_m": {"contact_off_pitch_x_sd_m": (0,), "contact_off_pitch_up_sd_m": (1,)},
    "landing_cov_m2": {"landing_var_x_m2": (0, 0), "landing_cov_xy_m2": (0, 1), "landing_var_y_m2": (1, 1)},
}
LISTS = ("warnings", "by_hand")
LIST_END = "; "


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """A record's fields, and others among them, with vectors in parts and lists as words."""
    found: dict[str, Any] = {}
    for name, value in row.items():
        if name in PARTS:
            found |= {part: _at(value, place) for part, place in PARTS[name].items()}
        elif name in LISTS:
            found[name] = None if value is None else LIST_END.join(value)
        else:
            found[name] = value
    return found


def column_kinds() -> dict[str, type]:
    """Name and type (str, int, float) of every column of a swing, in order. Any but str may lack a value."""
    kinds: dict[str, type] = {}
    for name, hint in get_type_hints(Swing).items():
        if name in PARTS:
            kinds |= dict.fromkeys(PARTS[name], float)
        else:
            kinds[name] = next((kind for kind in (float, int) if kind in (hint, *get_args(hint))), str)
    return kinds


def _at(value: Any, place: tuple[int, ...]) -> float | None:
    for index in place:
        value = None if value is None else value[index]
    return None if value is None else float(value)
