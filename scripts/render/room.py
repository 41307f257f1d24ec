"""The hall that holds an indoor lesson."""

from dataclasses import dataclass

from .scene_spec import SceneSpec

TALL_M = 6.6


@dataclass(frozen=True, slots=True)
class Room:
    """The walls' inner faces. [m]"""

    half_x: float
    back_y: float
    front_y: float
    tall: float


def room_of(spec: SceneSpec) -> Room:
    """The room that holds plate and camera: a gym ends at ``stop_m``, a shed goes on behind its cage."""
    front = spec.stop_m if spec.venue == "gym" else max(24.0, spec.stop_m + 4.0)
    aside = spec.place in ("side", "left45", "right45")
    return Room(
        max(8.5, spec.distance_m + 1.5) if aside else 8.5, -max(9.0, spec.distance_m + 2.0), front,
        max(TALL_M, spec.camera_height_m + 1.5),
    )  # fmt: skip
