"""What lesson.toml says before the field is marked and anything is filmed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from pydantic import Field

from balltrack.field import Ball, Fence
from balltrack.lesson.checks import Problems, check_lens
from balltrack.lesson.folder import Delivery
from balltrack.lesson.lens import Lens, lens_of
from balltrack.lesson.lesson_toml import CameraTable, LensTable, LessonTable, MarkTable, TomlFile
from balltrack.lesson.load import ball_of, fence_of
from balltrack.units import M_PER_FT

LESSON_FILE = "lesson.toml"


class _UnmarkedCamera(CameraTable):
    marks: list[MarkTable] = Field(default_factory=list, description="[[camera.marks]] with point and pixel, or none")


class _UnmarkedLesson(LessonTable):
    camera: _UnmarkedCamera = Field(default=_UnmarkedCamera(), description="a table [camera], or none")


@dataclass(frozen=True, slots=True, eq=False)
class Unmarked:
    """A lesson as it is known beforehand. SI."""

    bats: Literal["right", "left"]
    ball: Ball
    base_path_m: float
    fence: Fence | None
    lens: Lens
    size_px: tuple[int, int] | None  # of the picture, where it is stated
    delivery: Delivery | None  # of the first block that states one
    capture_rates: Mapping[str, float | None] = field(default_factory=dict)  # frames a second, by block; "" all others

    def capture_fps(self, block: str) -> float | None:
        """Frames per real second, where lesson.toml says how fast a block's slow motion was filmed."""
        return self.capture_rates.get(block) or self.capture_rates.get("")


def load_unmarked(place: Path) -> Unmarked:
    """Read a lesson folder, or a lesson.toml itself, without its marks and clips.

    Raises
    ------
    LessonError
        If lesson.toml is missing or wrong, or names a lens file that is.
    """
    path = place / LESSON_FILE if place.is_dir() else place
    file = TomlFile(path)
    table = file.parse(_UnmarkedLesson)
    camera = table.camera
    problems = Problems(file)
    lens_path = check_lens(path.parent, table, problems)
    problems.raise_any()
    lens = Lens(camera.horizontal_fov_deg, camera.horizontal_fov_sd_pct)
    if lens_path is not None:
        lens = lens_of(TomlFile(lens_path).parse(LensTable))
    return Unmarked(
        bats=table.player.bats,
        ball=ball_of(table.ball),
        base_path_m=table.field.base_path_ft * M_PER_FT,
        fence=fence_of(table.field),
        lens=lens,
        size_px=(camera.image_size_px[0], camera.image_size_px[1]) if camera.image_size_px else None,
        delivery=next((block.delivery for block in table.blocks.values() if block.delivery), None),
        capture_rates={"": camera.capture_fps} | {name: block.capture_fps for name, block in table.blocks.items()},
    )
