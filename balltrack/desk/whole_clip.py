"""A whole clip in the frame viewer, for the swing that the program did not see; and which clips hold none."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from balltrack.desk.frames import Reel, reel_of
from balltrack.errors import RecordError
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.records.basis_file import basis_path
from balltrack.records.corrections import corrections_version
from balltrack.records.swing import Swing


@dataclass(frozen=True, slots=True, eq=False)
class OpenClip:
    """A clip that can be looked through from end to end."""

    clip: Clip
    version: str  # of its corrections
    reel: Reel


@dataclass(frozen=True, slots=True)
class ListedClip:
    """A measured clip, for the list of those to look through."""

    name: str  # clips/01-tee/001.mp4
    words: str  # 01-tee/001
    swings: int


def open_clip(folder: Path, name: str) -> OpenClip:
    """Look a clip up by its name in the lesson, which is never taken for a path.

    Raises
    ------
    RecordError
        If there is no such clip.
    VideoError
        If it cannot be read.
    """
    for clip in load_lesson(folder).clips:
        if clip.name == name:
            reel = reel_of(clip.path, clip.capture_fps)
            return OpenClip(clip, corrections_version(folder / "results", clip.name), reel)
    raise RecordError("there is no such clip; load the page anew")


def viewed_clip(seen: OpenClip) -> dict[str, Any]:
    """What the viewer's script needs; it is that of a swing of which nothing is known."""
    return {
        "swing": None,
        "version": seen.version,
        "clip": seen.clip.name,
        "words": _words(seen.clip.name),
        "size": list(seen.reel.info.size_px),
        "times": [round(float(time_s), 6) for time_s in seen.reel.times_s],
        "begins": 0,
        "found": [],
        "hand": [],
        "path": [],
    }


def listed_clips(lesson: Lesson, results: Path, swings: Sequence[Swing]) -> tuple[ListedClip, ...]:
    """The measured clips of a lesson, those without a swing first."""
    unread = {swing.clip for swing in swings if swing.swing.endswith("#0")}  # number 0 stands for such a clip
    counts = {clip.name: sum(swing.clip == clip.name for swing in swings) for clip in lesson.clips}
    measured = [name for name in counts if name not in unread and (results / basis_path(name)).exists()]
    listed = [ListedClip(name, _words(name), counts[name]) for name in measured]
    return tuple(sorted(listed, key=lambda clip: clip.swings > 0))


def _words(name: str) -> str:
    path = PurePosixPath(name)
    return f"{path.parent.name}/{path.stem}"
