"""From a lesson folder to a Lesson: every number checked, in SI, every mark on its point of the field."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack.air import (
    STANDARD_PRESSURE_PA,
    UNKNOWN_HUMIDITY,
    UNKNOWN_TEMPERATURE_C,
    Air,
    air_density_kg_m3,
    pressure_at_altitude_pa,
)
from balltrack.camera.marks import STATED_READOUT_SD_S, Mark, ReadoutPrior
from balltrack.errors import LessonError
from balltrack.field import (
    Ball,
    Fence,
    ball_of_kind,
    ball_of_size,
    named_points,
    pitching_distance_m,
)
from balltrack.lesson.checks import Problems, check_lens, check_together, is_free, place_marks
from balltrack.lesson.folder import Clip, Delivery, find_clips, settings_hash
from balltrack.lesson.lens import Lens, lens_of
from balltrack.lesson.lesson_toml import (
    AirTable,
    BallTable,
    BlockTable,
    FieldTable,
    LensTable,
    LessonTable,
    TomlFile,
)
from balltrack.lesson.words import Drill, Words, measured_with
from balltrack.units import KG_PER_OZ, M_PER_FT, M_PER_IN

USUAL_FENCE_FT = 6.0  # common practice, no source


@dataclass(frozen=True, slots=True)
class Player:
    name: str
    bats: str  # right | left


@dataclass(frozen=True, slots=True)
class Block:
    """One folder of clips, in the words of lesson.toml where it has any."""

    name: str  # 01-tee
    title: str
    delivery: Delivery | None
    notes: str
    reps: int | None


@dataclass(frozen=True, slots=True, eq=False)
class Lesson:
    """A lesson as entered and filmed. SI."""

    folder: Path
    player: Player
    ball: Ball
    air: Air
    fence: Fence | None
    base_path_m: float
    pitching_distance_m: float
    lens: Lens
    readout: ReadoutPrior | None
    image_size_px: tuple[int, int] | None  # of the picture that was marked, where stated
    marks: tuple[Mark, ...]
    mark_lines: tuple[int, ...]  # of lesson.toml, one a mark
    tee_base_px: tuple[float, float] | None  # where a tee's foot was marked without saying its place
    blocks: tuple[Block, ...]  # those that hold clips, in order
    clips: tuple[Clip, ...]
    words: Words
    notices: tuple[str, ...]  # what was left out and why, one line each
    settings_hash: str


def load_lesson(folder: Path) -> Lesson:
    """Read a lesson folder.

    Raises
    ------
    LessonError
        If anything in lesson.toml is wrong (one line for each wrong field, with its line number), or the clips are.
    """
    if not folder.is_dir():
        raise LessonError(f"{folder}: no such folder; give the lesson folder, which holds lesson.toml and clips/")
    return lesson_of(folder, TomlFile(folder / "lesson.toml"))


def lesson_of(folder: Path, file: TomlFile, filmed: bool = True) -> Lesson:
    """The lesson of a folder by ``file``, which need not be written yet; where not ``filmed``, without its clips.

    Raises LessonError as `load_lesson`.
    """
    table = file.parse(LessonTable)
    problems = Problems(file)
    check_together(table, problems)
    lens_path = check_lens(folder, table, problems)
    problems.raise_any()
    ball, fence = ball_of(table.ball), fence_of(table.field)
    pitching_m = _pitching_m(table.field, ball)
    points = named_points(ball.kind, table.field.base_path_ft * M_PER_FT, pitching_m, fence)
    marks_at = place_marks(table.camera, points, problems)
    problems.raise_any()
    lens_file = None if lens_path is None else TomlFile(lens_path)
    lens = _lens(table, lens_file)
    files = [file] if lens_file is None else [file, lens_file]
    settings = [measured_with(file.values), *(each.data for each in files[1:])]
    deliveries = {name: block.delivery for name, block in table.blocks.items()}
    clips, notices = find_clips(folder, deliveries) if filmed else ((), ())
    clips = tuple(replace(clip, capture_fps=_capture_fps(table, clip.block)) for clip in clips)
    size = table.camera.image_size_px
    return Lesson(
        folder=folder,
        player=Player(table.player.name, table.player.bats),
        ball=ball,
        air=_air(table.air),
        fence=fence,
        base_path_m=table.field.base_path_ft * M_PER_FT,
        pitching_distance_m=pitching_m,
        lens=lens,
        readout=_readout(table.camera.readout_ms),
        image_size_px=(size[0], size[1]) if size else None,
        marks=tuple(mark for _, mark in marks_at),
        mark_lines=tuple(line for line, _ in marks_at),
        tee_base_px=_tee_base_px(table),
        blocks=_blocks(table, clips),
        words=words_of(table),
        clips=clips,
        notices=(*(notice for each in files for notice in each.notices), *notices, *_notices(table, clips, pitching_m)),
        settings_hash=settings_hash(settings),
    )


def ball_of(ball: BallTable) -> Ball:
    """The ball as entered: of a kind, or measured."""
    if ball.kind is not None:
        return ball_of_kind(ball.kind)
    return ball_of_size((ball.circumference_in or 0.0) * M_PER_IN, (ball.weight_oz or 0.0) * KG_PER_OZ)


def _air(air: AirTable) -> Air:
    """What is not stated is taken as on a usual day near the sea."""
    temperature_c = UNKNOWN_TEMPERATURE_C if air.temperature_c is None else air.temperature_c
    humidity = UNKNOWN_HUMIDITY if air.humidity_pct is None else air.humidity_pct / 100
    pressure_pa = STANDARD_PRESSURE_PA
    if air.pressure_hpa is not None:
        pressure_pa = air.pressure_hpa * 100
    elif air.altitude_m is not None:
        pressure_pa = pressure_at_altitude_pa(air.altitude_m)
    wind_x_mps, wind_y_mps = air.wind_mps or (0.0, 0.0)
    density = air_density_kg_m3(temperature_c, pressure_pa, humidity)
    return Air(density, temperature_c, (wind_x_mps, wind_y_mps))


def fence_of(field: FieldTable) -> Fence | None:
    """The fence as entered; None where none is."""
    if field.fence_ft is None:
        return None
    distances_ft = field.fence_ft if isinstance(field.fence_ft, list) else [field.fence_ft]
    height_ft = USUAL_FENCE_FT if field.fence_height_ft is None else field.fence_height_ft
    return Fence(tuple(distance * M_PER_FT for distance in distances_ft), height_ft * M_PER_FT)


def _pitching_m(field: FieldTable, ball: Ball) -> float:
    stated_ft = field.pitching_distance_ft
    return pitching_distance_m(ball.kind) if stated_ft is None else stated_ft * M_PER_FT


def _lens(table: LessonTable, file: TomlFile | None) -> Lens:
    if file is None:
        return Lens(table.camera.horizontal_fov_deg, table.camera.horizontal_fov_sd_pct)
    lens = file.parse(LensTable)
    return lens_of(lens)


def _readout(readout_ms: float | None) -> ReadoutPrior | None:
    return None if readout_ms is None else ReadoutPrior(readout_ms / 1000, STATED_READOUT_SD_S)


def _capture_fps(table: LessonTable, block: str) -> float | None:
    """What is said of a block goes before what is said of the whole lesson."""
    entry = table.blocks.get(block)
    return entry.capture_fps if entry and entry.capture_fps else table.camera.capture_fps


def _tee_base_px(table: LessonTable) -> tuple[float, float] | None:
    return next(((mark.pixel[0], mark.pixel[1]) for mark in table.camera.marks if is_free(mark)), None)


def _blocks(table: LessonTable, clips: Sequence[Clip]) -> tuple[Block, ...]:
    """The blocks that hold clips, in their order."""
    entries = {clip.block: table.blocks.get(clip.block, BlockTable()) for clip in clips}
    return tuple(
        Block(name, entry.title or name, entry.delivery, entry.notes or "", entry.reps)
        for name, entry in entries.items()
    )


def words_of(table: LessonTable) -> Words:
    """What the coach said, empty where nothing."""
    drills = tuple(
        Drill(each.name, str(each.repetitions or ""), each.words or "", each.caution or "")
        for each in table.plan.drills
    )
    notes = {swing: entry.notes for swing, entry in table.swings.items() if entry.notes}
    return Words(table.lesson.date, table.lesson.notes or "", notes, table.plan.words or "", drills)


def _notices(table: LessonTable, clips: Sequence[Clip], pitching_m: float) -> list[str]:
    """What was taken for granted, and blocks without clips."""
    filmed = {clip.block for clip in clips}
    notices = [f'[blocks."{name}"] has no clips in clips/{name}' for name in table.blocks if name not in filmed]
    if table.field.fence_ft is not None and table.field.fence_height_ft is None:
        notices.append(
            f"the fence is taken {USUAL_FENCE_FT:g} ft high; if it is not, give fence_height_ft under [field]"
        )
    marked = any(mark.point == "pitchers_plate_front" for mark in table.camera.marks)
    if marked and table.field.pitching_distance_ft is None:
        distance_ft = pitching_m / M_PER_FT
        notices.append(
            f"pitchers_plate_front is taken {distance_ft:g} ft from the plate; "
            "if it is not, give pitching_distance_ft under [field]"
        )
    return notices


def check_pixels(lesson: Lesson, size_px: tuple[int, int]) -> None:
    """Raise a LessonError, one line a mark, for marks outside a picture of ``size_px`` (width, height)."""
    width, height = size_px
    wrong = [
        f"lesson.toml line {line}: the pixel of {mark.name} = [{mark.pixel_px[0]:g}, {mark.pixel_px[1]:g}] is outside "
        f"the clips' picture of {width} x {height}; mark it on a frame of this lesson's clips"
        for line, mark in zip(lesson.mark_lines, lesson.marks, strict=True)
        if not (mark.pixel_px[0] <= width - 0.5 and mark.pixel_px[1] <= height - 0.5)
    ]
    if wrong:
        raise LessonError("\n".join(wrong))
