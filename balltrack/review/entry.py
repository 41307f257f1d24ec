"""A measured lesson folder as the logbook takes it."""

import datetime
from pathlib import Path

from balltrack.errors import RecordError, VideoError
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.records.alone import alone
from balltrack.records.logbook.entry import BlockEntry, ClipEntry, DateSource, LessonEntry, fingerprint_of
from balltrack.records.store import read_swings
from balltrack.video.filmed_on import filmed_on


def entry_of(folder: Path) -> LessonEntry:
    """Read a lesson with its swings.

    Raises
    ------
    MeasureError
        If lesson.toml or the clips are wrong, the lesson was not measured, or is being measured just now.
    """
    lesson = load_lesson(folder)
    results = folder / "results"
    if not (results / "swings.jsonl").exists():
        raise RecordError(f"{folder} has no results yet; measure the lesson first: balltrack measure {folder}")
    with alone(results):
        swings = read_swings(results / "swings.jsonl")
    held_on, source = _held_on(lesson)
    return LessonEntry(
        player=" ".join(lesson.player.name.split()),
        bats=lesson.player.bats,
        ball=lesson.ball.kind,
        held_on=held_on,
        date_source=source,
        folder=folder.resolve(),
        clips=tuple(ClipEntry(clip.name, fingerprint_of(clip.path)) for clip in lesson.clips),
        blocks=tuple(BlockEntry(block.name, block.title, block.delivery) for block in lesson.blocks),
        swings=swings,
    )


def _held_on(lesson: Lesson) -> tuple[datetime.date, DateSource]:
    """The day as lesson.toml says it; else that of the earliest clip by its own clock, or by its file's."""
    if lesson.words.date is not None:
        return lesson.words.date, "stated"
    told = [day for clip in lesson.clips if (day := _filmed_on(clip)) is not None]
    if told:
        return min(told), "clips"
    return min(datetime.date.fromtimestamp(clip.path.stat().st_mtime) for clip in lesson.clips), "files"


def _filmed_on(clip: Clip) -> datetime.date | None:
    try:
        return filmed_on(clip.path)
    except VideoError:  # its swing has been recorded as not measured; the day is told by the others
        return None
