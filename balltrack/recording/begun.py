"""What lesson.toml says of a recording: when its blocks begin, where the plate is, how fast it was filmed."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from balltrack.camera.solve import solve
from balltrack.contact import zone_box_px
from balltrack.errors import CalibrationError, LessonError
from balltrack.lesson.lens_choice import best_lens
from balltrack.lesson.lesson_toml import BegunTable, RecordedBlockTable, TomlFile
from balltrack.lesson.load import lesson_of
from balltrack.lesson.unmarked import LESSON_FILE
from balltrack.video.clip import ClipInfo

Box = tuple[int, int, int, int]  # left, top, right, bottom [px]


@dataclass(frozen=True, slots=True)
class BlockStart:
    """A block of the time table."""

    name: str
    start_s: float  # as a player shows it: from the film's beginning, in the file's own seconds


@dataclass(frozen=True, slots=True)
class Begun:
    """A lesson of which little may be known yet."""

    time_table: tuple[BlockStart, ...] = ()  # in order; empty: blocks are told by pauses
    capture_fps: float | None = None


def read_begun(folder: Path, recording: Path) -> Begun:
    """What is said of a recording; nothing where there is no lesson.toml yet.

    Raises
    ------
    LessonError
        If lesson.toml is not TOML, or the table [recording] is wrong.
    """
    if not (folder / LESSON_FILE).exists():
        return Begun()
    file = TomlFile(folder / LESSON_FILE)
    table = file.parse(BegunTable)
    blocks = [block for block in table.recording.blocks if block.file in (None, recording.name)]
    starts = [BlockStart(block.name, _seconds(block)) for block in blocks]
    _check_order(file, table.recording.blocks, starts)
    return Begun(tuple(starts), table.camera.capture_fps)


def _seconds(block: RecordedBlockTable) -> float:
    seconds = 0
    for part in block.start.split(":"):
        seconds = 60 * seconds + int(part)
    return float(seconds)


def _check_order(file: TomlFile, entries: Sequence[RecordedBlockTable], starts: Sequence[BlockStart]) -> None:
    for before, after in pairwise(starts):
        if after.start_s <= before.start_s:
            named = [(entry.name, _seconds(entry)) for entry in entries]
            index = named.index((after.name, after.start_s))
            words = f"does not come after the start of {before.name} above; give the blocks in their order"
            raise LessonError(file.error(("recording", "blocks", index, "start"), words))


def marked_zone(folder: Path, info: ClipInfo) -> tuple[Box | None, str]:
    """The part of the picture around the plate, by the field's marks; None, and why, where they do not give it.

    Raises
    ------
    LessonError
        If the field is marked, but lesson.toml is wrong.
    """
    if not (folder / LESSON_FILE).exists():
        return None, ""
    file = TomlFile(folder / LESSON_FILE)
    camera = file.values.get("camera")
    if not isinstance(camera, dict) or not camera.get("marks"):
        return None, ""
    lesson = lesson_of(folder, file, filmed=False)
    if lesson.image_size_px not in (None, info.size_px):
        width, height = info.size_px
        return None, f"the marks are not used: they were made on another picture than {width} x {height}"
    try:
        lens = best_lens(lesson.lens, info, info.size_px)
        solved = solve(lesson.marks, info.size_px, lens.prior, lesson.readout)
    except CalibrationError as error:
        return None, f"the marks are not used: {error}"
    return zone_box_px(solved.camera), ""
