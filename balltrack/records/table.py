"""The swings as a table for a spreadsheet: human column names, the reader's units in every header."""

import csv
import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from balltrack.records.swing import Swing
from balltrack.units import M_PER_FT, M_PER_IN, MPS_PER_MPH

Units = Literal["us", "metric"]

OUTCOME_WORDS = {"measured": "measured", "no_contact": "no contact", "not_measured": "not measured"}


@dataclass(frozen=True, slots=True)
class Scale:
    """What a reader's unit is called and how many SI units it holds."""

    unit: str
    si_per_unit: float
    decimals: int


SPEED: dict[Units, Scale] = {"us": Scale("mph", MPS_PER_MPH, 1), "metric": Scale("km/h", 1 / 3.6, 1)}
DISTANCE: dict[Units, Scale] = {"us": Scale("ft", M_PER_FT, 0), "metric": Scale("m", 1.0, 1)}
DEPTH: dict[Units, Scale] = {"us": Scale("in", M_PER_IN, 1), "metric": Scale("cm", 0.01, 0)}
ANGLE = Scale("°", 1.0, 1)
SECONDS = Scale("s", 1.0, 2)
MILLISECONDS = Scale("ms", 0.001, 2)
WHOLE_MS = Scale("ms", 0.001, 0)
PIXELS = Scale("px", 1.0, 2)
PER_CENT = Scale("%", 0.01, 0)

_Cell = str | int | float | None


def swings_csv(swings: Iterable[Swing], units: Units) -> str:
    """The whole table, one row a swing. Empty cells are what could not be had. Lines end in CRLF (RFC 4180)."""
    columns = _columns(units)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([name for name, _ in columns])
    for swing in swings:
        writer.writerow([_cell(value(swing)) for _, value in columns])
    return text.getvalue()


def units_of(table: str) -> Units:
    """The reader's units of a table written by `swings_csv`."""
    return "metric" if f"({SPEED['metric'].unit})" in table.split("\n", 1)[0] else "us"


def _columns(units: Units) -> list[tuple[str, Callable[[Swing], _Cell]]]:
    speed, far, near = SPEED[units], DISTANCE[units], DEPTH[units]
    return [
        ("Swing", lambda s: s.swing),
        ("Clip", lambda s: s.clip),
        ("Block", lambda s: s.block),
        ("Outcome", lambda s: OUTCOME_WORDS[s.outcome]),
        ("Reason", lambda s: s.reason),
        ("Contact in clip (s)", lambda s: _in(s.contact_s, Scale("s", 1.0, 4))),
        (f"Exit speed ({speed.unit})", lambda s: _in(s.exit_speed_mps, speed)),
        (f"Exit speed, 1 sd ({speed.unit})", lambda s: _in(s.exit_speed_sd_mps, speed, 1)),
        ("Launch angle (°)", lambda s: _in(s.launch_deg, ANGLE)),
        ("Launch angle, 1 sd (°)", lambda s: _in(s.launch_sd_deg, ANGLE, 1)),
        ("Direction, right positive (°)", lambda s: _in(s.spray_deg, ANGLE)),
        ("Direction, 1 sd (°)", lambda s: _in(s.spray_sd_deg, ANGLE, 1)),
        ("Side of the field", lambda s: s.field_side),
        ("Kind of flight", lambda s: s.flight and s.flight.replace("_", " ")),
        (f"Contact ahead of plate front ({near.unit})", lambda s: _in(s.contact_depth_m, near)),
        (f"Contact toward first base ({near.unit})", lambda s: _in(s.contact_m and s.contact_m[0], near)),
        (f"Contact height ({near.unit})", lambda s: _in(s.contact_m and s.contact_m[2], near)),
        (f"Carry ({far.unit})", lambda s: _in(s.carry_m, far, 1)),
        (f"Carry, 1 sd ({far.unit})", lambda s: _in(s.carry_sd_m, far, 1)),
        (f"Landing toward first base ({far.unit})", lambda s: _in(s.landing_m and s.landing_m[0], far, 1)),
        (f"Landing toward second base ({far.unit})", lambda s: _in(s.landing_m and s.landing_m[1], far, 1)),
        (f"Highest point ({far.unit})", lambda s: _in(s.apex_m, far, 1)),
        ("Time in the air (s)", lambda s: _in(s.hang_s, SECONDS)),
        (f"Bend, toward right field positive ({far.unit})", lambda s: _in(s.tail_m, far, 1)),
        (f"Bend, 1 sd ({far.unit})", lambda s: _in(s.tail_sd_m, far, 1)),
        ("Chance over the fence (%)", lambda s: _in(s.fence_clear_probability, PER_CENT)),
        (f"Pitch speed ({speed.unit})", lambda s: _in(s.pitch_speed_mps, speed)),
        (f"Pitch speed, 1 sd ({speed.unit})", lambda s: _in(s.pitch_speed_sd_mps, speed, 1)),
        (f"Pitch highest point ({far.unit})", lambda s: _in(s.pitch_apex_m, far, 1)),
        (f"Pitch highest point, 1 sd ({far.unit})", lambda s: _in(s.pitch_apex_sd_m, far, 2)),
        ("Pitch downward at the plate (°)", lambda s: _in(s.pitch_descent_deg, ANGLE)),
        ("Pitch downward, 1 sd (°)", lambda s: _in(s.pitch_descent_sd_deg, ANGLE, 1)),
        (f"Pitch at plate front toward first base ({near.unit})", lambda s: _in(_part(s.pitch_plate_m, 0), near)),
        (f"Pitch at plate front, height ({near.unit})", lambda s: _in(_part(s.pitch_plate_m, 1), near)),
        (f"Pitch toward first base, 1 sd ({near.unit})", lambda s: _in(_part(s.pitch_plate_sd_m, 0), near, 1)),
        (f"Pitch height, 1 sd ({near.unit})", lambda s: _in(_part(s.pitch_plate_sd_m, 1), near, 1)),
        ("Met before the plate's front (ms)", lambda s: _in(s.early_s, WHOLE_MS)),
        ("Met before the plate's front, 1 sd (ms)", lambda s: _in(s.early_sd_s, WHOLE_MS)),
        ("Ended", lambda s: s.ended),
        ("Frames used (count)", lambda s: s.frames_used),
        ("Misfit (px)", lambda s: _in(s.residual_px, PIXELS)),
        ("Shutter open (ms)", lambda s: _in(s.exposure_s, MILLISECONDS)),
        ("Quality", lambda s: s.quality),
        ("Warnings", lambda s: "; ".join(s.warnings)),
        ("By hand", lambda s: "; ".join(s.by_hand)),
        ("Excluded because", lambda s: s.excluded),
    ]


def _part(vector: tuple[float, ...] | None, index: int) -> float | None:
    return None if vector is None else vector[index]


def _in(value: float | None, scale: Scale, more_decimals: int = 0) -> float | None:
    return None if value is None else round(value / scale.si_per_unit, scale.decimals + more_decimals or None)


def _cell(value: _Cell) -> _Cell:
    # A spreadsheet runs text that begins like a formula; file names come from anywhere.
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
