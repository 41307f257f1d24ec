"""The lesson's field in the reader's units, ready to be drawn."""

from collections.abc import Sequence

import numpy as np

from balltrack.lesson import Lesson
from balltrack.records.table import DISTANCE, Units
from balltrack.review.field_drawing import FOUL_RAD, Plan
from balltrack.units import Floats

RING_STEP: dict[Units, float] = {"us": 50.0, "metric": 20.0}
OUTFIELD_SHARE = 2.2  # without a fence or far balls, so many base paths are drawn


def plan_of(lesson: Lesson, places: Sequence[Floats], units: Units) -> Plan:
    """The plan that holds field, fence and all landing places, which are in the reader's unit already."""
    scale = DISTANCE[units]
    fence = None
    base_path = lesson.base_path_m / scale.si_per_unit
    reach = OUTFIELD_SHARE * base_path
    if lesson.fence is not None:
        angles = np.linspace(-FOUL_RAD, FOUL_RAD, 91)
        distances = np.asarray(lesson.fence.distance_m(angles)) / scale.si_per_unit
        fence = distances[:, None] * np.column_stack([np.sin(angles), np.cos(angles)])
        reach = float(distances.max())
    else:
        reach = max([reach, *(1.08 * float(np.hypot(*place)) for place in places)])
    return Plan(
        base_path=base_path,
        pitching_distance=lesson.pitching_distance_m / scale.si_per_unit,
        fence=fence,
        reach=reach,
        unit=scale.unit,
        ring_step=RING_STEP[units],
    )
