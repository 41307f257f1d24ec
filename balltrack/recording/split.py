"""One recording of a whole lesson in, one clip a swing out. Read from top to bottom."""

import os
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.errors import LessonError, RecordError, VideoError
from balltrack.recording.begun import Begun, marked_zone, read_begun
from balltrack.recording.blocks import by_pauses, by_time_table, starts_in
from balltrack.recording.contacts import Contact, find_contacts
from balltrack.recording.cuts import (
    KnownCut,
    Source,
    cut_swing,
    free_block_numbers,
    identity,
    known,
    known_cuts,
    windows,
)
from balltrack.recording.look import Look
from balltrack.recording.side_by_side import OnProgress, look_through
from balltrack.recording.zone import box_weights, learnt_weights
from balltrack.records.alone import alone
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.cut import cutter
from balltrack.video.ends import ends_s

BY_MARKS = "by the marks in lesson.toml"
BY_CRACKS = "learnt from what moves when a bat cracks"
BY_MOTION = "by motion alone, for the recording has no sound"


@dataclass(frozen=True, slots=True)
class CutSwing:
    """A swing and its clip."""

    contact: Contact
    path: Path
    new: bool  # cut by this run


@dataclass(frozen=True, slots=True)
class CutBlock:
    """A block of the lesson, as far as this recording holds it."""

    name: str
    swings: tuple[CutSwing, ...]  # in order of time; those that could not be cut are missing


@dataclass(frozen=True, slots=True)
class Split:
    """What became of a recording."""

    recording: Path
    folder: Path
    begin_s: float
    end_s: float
    time_scale: float
    blocks: tuple[CutBlock, ...]
    told_by: str  # how swings were told from other motion
    notices: tuple[str, ...]
    problems: tuple[str, ...]  # swings that could not be cut, one line each


def split_recording(
    recording: Path, folder: Path, workers: int | None = None, on_progress: OnProgress = lambda done, total: None
) -> Split:
    """Find the swings of a recording and cut each into its own clip in clips/ of a lesson folder.

    A swing that an earlier run has cut is not cut again, wherever in clips/ its clip lies now.

    Parameters
    ----------
    recording : Path
    folder : Path
        The lesson; made where it is missing. lesson.toml need not be there.
    workers : int, optional
        As many as there are cores where not given.
    on_progress : callable
        Called with the seconds of film that were looked through, and their total.

    Raises
    ------
    MeasureError
        If the recording cannot be read, lesson.toml is wrong, or the folder cannot be written.
    """
    _check_place(recording, folder)
    begun = read_begun(folder, recording)
    info = probe(recording, begun.capture_fps)
    seen = look_through(info, workers or _cores(), on_progress)
    contacts, told_by, why = _swings(seen, folder, info)
    with alone(folder / "results"):
        return _cut_all(info, begun, contacts, folder, (told_by, why))


def _check_place(recording: Path, folder: Path) -> None:
    if recording.resolve().is_relative_to((folder / "clips").resolve()):
        raise LessonError(f"{recording} lies in clips/, where it counts as a clip; move it elsewhere, then split it")


def _swings(seen: Look, folder: Path, info: ClipInfo) -> tuple[tuple[Contact, ...], str, str]:
    """The swings, how they were told from other motion, and a word where the marks did not serve."""
    grid = seen.moved.shape[1:]
    box, why = marked_zone(folder, info)
    if box is not None:
        contacts = find_contacts(seen, box_weights(box, info.size_px, (grid[0], grid[1])))
        if contacts:
            return contacts, BY_MARKS, ""
        why = "nothing swung where the marks put the plate: the phone may have stood elsewhere"
    weights = learnt_weights(seen) if seen.audible else None
    if weights is None:  # anywhere, then
        weights = np.full(grid, 1 / np.prod(grid))
    return find_contacts(seen, weights), BY_CRACKS if seen.audible else BY_MOTION, why


def _cut_all(
    info: ClipInfo, begun: Begun, contacts: Sequence[Contact], folder: Path, told: tuple[str, str]
) -> Split:
    begin_s, end_s = ends_s(info)
    recording = identity(info.path)
    cuts = known_cuts(folder, recording)
    groups, notices = _named(begun, contacts, cuts, folder, (begin_s, info.time_scale))
    window_of = dict(zip(contacts, windows(contacts, begin_s, end_s), strict=True))
    new = [window_of[contact] for _, group in groups for contact in group if known(contact, cuts) is None]
    _check_room(info.path, sum(stop_s - start_s for start_s, stop_s in new) / max(end_s - begin_s, 1.0), folder)
    blocks: list[CutBlock] = []
    problems: list[str] = []
    with cutter(info) as opened:
        source = Source(opened, info.path.suffix, recording)
        for name, group in groups:
            swings = []
            for contact in group:
                try:
                    swings.append(_cut(source, contact, window_of[contact], folder / "clips" / name, cuts))
                except VideoError as error:
                    problems.append(str(error))
            blocks.append(CutBlock(name, tuple(swings)))
    told_by, why = told
    words = tuple(word for word in (*info.warnings, why, *notices) if word)
    return Split(info.path, folder, begin_s, end_s, info.time_scale, tuple(blocks), told_by, words, tuple(problems))


def _cut(
    source: Source, contact: Contact, window_s: tuple[float, float], block: Path, cuts: Sequence[KnownCut]
) -> CutSwing:
    """The clip of one swing: the one that is there, or a new one."""
    there = known(contact, cuts)
    if there is not None:
        return CutSwing(contact, there.path, False)
    if not block.resolve().is_relative_to(block.parents[1].resolve()):
        raise LessonError(f"{block} is a link out of the lesson folder; put a folder there instead")
    return CutSwing(contact, cut_swing(source, contact, window_s, block), True)


def _named(
    begun: Begun, contacts: Sequence[Contact], cuts: Sequence[KnownCut], folder: Path, clock: tuple[float, float]
) -> tuple[list[tuple[str, list[Contact]]], list[str]]:
    """The blocks with their folders' names, and a word on swings that belong to none."""
    if begun.time_table:
        early, *groups = by_time_table(contacts, starts_in(begun.time_table, *clock))
        count = f"{len(early)} swing" + ("s" if len(early) > 1 else "")
        notices = [f"{count} before the first block's start in the time table left out"] if early else []
        return list(zip((block.name for block in begun.time_table), groups, strict=True)), notices
    numbers = free_block_numbers(folder)
    named = []
    for group in by_pauses(contacts):
        there = [cut.path.parent.name for contact in group if (cut := known(contact, cuts))]
        named.append((max(there, key=there.count) if there else f"{next(numbers):02d}", group))
    return named, []


def _check_room(recording: Path, share: float, folder: Path) -> None:
    """Raise RecordError where the clips, which take about ``share`` of the recording's bytes, do not fit."""
    needed = share * recording.stat().st_size
    free = shutil.disk_usage(folder).free
    if needed > free:
        room = f"{folder} has room for {free / 1e6:.0f} MB"
        raise RecordError(f"{room}, and the clips need {needed / 1e6:.0f} MB; free some")


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
