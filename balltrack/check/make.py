"""`balltrack check`: from the files that a person names to the words about them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.check.expect import prospect
from balltrack.check.files import find_files
from balltrack.check.judge import Fitness, Remark, judge
from balltrack.check.look import look_at
from balltrack.check.words import Checked, words_of
from balltrack.errors import LessonError, VideoError
from balltrack.field import Ball, ball_of_kind
from balltrack.lesson.unmarked import Unmarked, load_unmarked
from balltrack.records.table import Units

USUAL_BALL = "softball-12"
SLOWEST_FPS, FASTEST_FPS = 5.0, 2000.0  # a prospect is worked out between these


@dataclass(frozen=True, slots=True)
class Report:
    """What was found."""

    words: str
    fit: int  # clips that can be measured
    total: int


def check_files(given: Sequence[Path], units: Units, tell: Callable[[int, int], None]) -> Report:
    """Look at clips and folders; ``tell`` hears how many of how many are done.

    Raises
    ------
    LessonError
        If a file does not exist, or none of them is a clip.
    """
    files = find_files(given)
    if not files.clips:
        about = f": {files.ignored[0]}" if len(files.ignored) == 1 else f" in {given[0]}"
        raise LessonError(f"there is no clip{about}; give videos, or a folder that holds some")
    checked = []
    for done, path in enumerate(files.clips):
        tell(done, len(files.clips))
        checked.append(check_clip(path))
    tell(len(files.clips), len(files.clips))
    fit = sum(each.fitness is not Fitness.UNFIT for each in checked)
    return Report(words_of(checked, files.ignored, units), fit, len(checked))


def check_clip(path: Path) -> Checked:
    """Judge one file; one that cannot be read is not fit, and the error's words say why."""
    lesson = _lesson_of(path)
    block = path.parent.name
    try:
        look = look_at(path, None if lesson is None else lesson.capture_fps(block))
    except VideoError as error:
        reason, _, instead = str(error).removeprefix(f"{path.name}: ").rpartition("; ")
        return Checked(path, Fitness.UNFIT, (Remark(Fitness.UNFIT, reason or instead, instead if reason else ""),))
    ball: Ball = lesson.ball if lesson else ball_of_kind(USUAL_BALL)
    expected = prospect(look, ball) if SLOWEST_FPS < look.info.nominal_fps < FASTEST_FPS else None
    fitness, remarks = judge(look, expected)
    return Checked(path, fitness, remarks, look, expected)


def _lesson_of(path: Path) -> Unmarked | None:
    """What lesson.toml says, where the clip lies in a lesson's folder and it can be read."""
    folder = next((each for each in path.absolute().parents[:3] if (each / "lesson.toml").is_file()), None)
    if folder is None:
        return None
    try:
        return load_unmarked(folder)
    except LessonError:
        return None  # `balltrack measure` says what is wrong with it
