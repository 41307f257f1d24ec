"""Wrong entries of lesson.toml that show only when several are looked at together, and marks put on their points."""

from collections.abc import Sequence
from pathlib import Path

from balltrack.camera.marks import Mark
from balltrack.errors import LessonError
from balltrack.field import FREE_POINTS, POLE_POINTS, Place
from balltrack.lesson.lesson_toml import (
    FENCE_WAYS,
    BallTable,
    CameraTable,
    FieldTable,
    LessonTable,
    MarkTable,
    TomlFile,
    did_you_mean,
)
from balltrack.lesson.toml_lines import Path as KeyPath


class Problems:
    """Wrong entries found so far, one line each."""

    def __init__(self, file: TomlFile) -> None:
        self.file = file
        self.lines: list[str] = []

    def add(self, path: KeyPath, what: str) -> None:
        self.lines.append(self.file.error(path, what))

    def raise_any(self) -> None:
        """Raise a LessonError with all of them, if there are any."""
        if self.lines:
            raise LessonError("\n".join(self.lines))


def check_together(table: LessonTable, problems: Problems) -> None:
    """Entries that exclude or need each other."""
    _check_ball(table.ball, problems)
    air, field = table.air, table.field
    if air.pressure_hpa is not None and air.altitude_m is not None:
        problems.add(("air", "pressure_hpa"), "stands beside altitude_m; give one of the two")
    if isinstance(field.fence_ft, list) and len(field.fence_ft) != FENCE_WAYS:
        allowed = FieldTable.model_fields["fence_ft"].description
        problems.add(("field", "fence_ft"), f"= {_list(field.fence_ft)} is not allowed; give {allowed}")


def _check_ball(ball: BallTable, problems: Problems) -> None:
    by_hand = [name for name in ("circumference_in", "weight_oz") if getattr(ball, name) is not None]
    if ball.kind is not None and by_hand:
        problems.add(("ball", by_hand[0]), "stands beside kind; give either kind, or circumference_in and weight_oz")
    elif ball.kind is None and len(by_hand) < 2:
        problems.add(("ball",), "needs kind, or circumference_in and weight_oz")


def check_lens(folder: Path, table: LessonTable, problems: Problems) -> Path | None:
    """Path of the lens file, if one is named."""
    camera = table.camera
    if camera.horizontal_fov_sd_pct is not None and camera.horizontal_fov_deg is None:
        problems.add(("camera", "horizontal_fov_sd_pct"), "needs horizontal_fov_deg beside it")
    if camera.lens is None:
        return None
    if camera.horizontal_fov_deg is not None:
        problems.add(("camera", "lens"), "stands beside horizontal_fov_deg; give one of the two")
    path = folder / camera.lens
    if not path.resolve().is_relative_to(folder.resolve()):
        problems.add(("camera", "lens"), f'= "{camera.lens}" leads out of the lesson folder; copy the file in')
    elif not path.is_file():
        problems.add(("camera", "lens"), f'= "{camera.lens}" is missing in the lesson folder')
    return path


def place_marks(camera: CameraTable, points: dict[str, Place], problems: Problems) -> tuple[tuple[int, Mark], ...]:
    """All marks that have a place, with the line of their pixel; what is wrong with any goes to ``problems``."""
    marks: list[tuple[int, Mark]] = []
    first_line: dict[str, int | None] = {}
    for index, entry in enumerate(camera.marks):
        path: KeyPath = ("camera", "marks", index)
        place = _place(entry, path, points, problems)
        _check_pixel(entry, path, camera.image_size_px, problems)
        if place is None:
            continue
        name = entry.point or f"at_m {_list(place)}"
        where = (*path, "point" if entry.point else "at_m")
        if name in first_line:
            problems.add(where, f"marks {name} twice; first on line {first_line[name]}")
        first_line.setdefault(name, problems.file.line(where))
        line = problems.file.line((*path, "pixel")) or 0
        marks.append((line, Mark(name, place, (entry.pixel[0], entry.pixel[1]), entry.sd_px)))
    return tuple(marks)


def is_free(entry: MarkTable) -> bool:
    """Whether a mark names something that may stand anywhere, and does not say where."""
    return entry.point in FREE_POINTS and entry.at_m is None


def _place(entry: MarkTable, path: KeyPath, points: dict[str, Place], problems: Problems) -> Place | None:
    """Where on the field a mark is; None where that is free, or, with a problem, cannot be told."""
    at_m = None if entry.at_m is None else (entry.at_m[0], entry.at_m[1], entry.at_m[2])
    if entry.point is None:
        if at_m is None:
            problems.add(path, "needs point, a named point, or at_m, its place in metres")
        return at_m
    if entry.point in FREE_POINTS:
        return at_m
    if at_m is not None:
        problems.add((*path, "at_m"), "stands beside point; give one of the two")
    elif entry.point in POLE_POINTS and entry.point not in points:
        problems.add((*path, "point"), f'= "{entry.point}" needs fence_ft under [field]')
    elif entry.point not in points:
        known = sorted({*points, *POLE_POINTS, *FREE_POINTS})
        hint = did_you_mean(entry.point, known)
        problems.add((*path, "point"), f'= "{entry.point}" is no named point{hint}; known: {", ".join(known)}')
    else:
        return points[entry.point]
    return None


def _check_pixel(entry: MarkTable, path: KeyPath, size: list[int] | None, problems: Problems) -> None:
    if size and not (entry.pixel[0] <= size[0] - 0.5 and entry.pixel[1] <= size[1] - 0.5):
        problems.add((*path, "pixel"), f"= {_list(entry.pixel)} is outside the picture of {size[0]} x {size[1]}")


def _list(numbers: Sequence[float]) -> str:
    """As a person writes it: [200, 220.5]."""
    return f"[{', '.join(f'{number:g}' for number in numbers)}]"
