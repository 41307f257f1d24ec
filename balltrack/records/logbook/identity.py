"""Is a lesson in the logbook already? By the id that its results keep, and by its clips.

Folders are copied: to keep them safe, or as the beginning of the next lesson. And results are deleted and made anew. So
neither the id nor the folder's name is believed alone.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, or_, select

from balltrack.errors import RecordError
from balltrack.records.atomic import write_atomic
from balltrack.records.logbook.players import name_key
from balltrack.records.logbook.tables import CLIPS, LESSONS

SAME_SHARE = 0.5  # of all clips of two folders; those that share more are one lesson. A convention, no source
_ID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Known:
    """What tells a lesson in the logbook, or in a folder, from others."""

    lesson: str | None  # its id; None where a folder keeps none
    name: str  # the player's, as entered
    folder: Path
    fingerprints: frozenset[str]


def id_file(folder: Path) -> Path:
    """Where a lesson folder keeps the id that the logbook gave it."""
    return folder / "results" / "logbook_id.txt"


def read_id(folder: Path) -> str | None:
    """The id that a lesson folder keeps; None where it keeps none, or something else."""
    try:
        words = id_file(folder).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
    return words if _ID.fullmatch(words) else None


def write_id(folder: Path, lesson: str) -> bool:
    """Keep the id in the lesson folder; False where it cannot be written, as on a disk that is only read."""
    if read_id(folder) == lesson:
        return True
    try:
        write_atomic(id_file(folder), lesson + "\n")
    except RecordError:
        return False
    return True


def is_same(kept: Known, found: Known) -> bool:
    """Whether a folder holds a lesson that the logbook has.

    With another player's name it must hold the very same clips: then the name was put right, else the folder was split.
    With the same id it need share one clip only, unless it is a copy beside the first: then it may have become a lesson
    of its own, and must share the most of them, as must a folder without the id.
    """
    shared = len(kept.fingerprints & found.fingerprints)
    if name_key(kept.name) != name_key(found.name):
        return kept.fingerprints == found.fingerprints
    if kept.lesson == found.lesson and not _stands_elsewhere(kept, found):
        return shared > 0
    return shared > SAME_SHARE * len(kept.fingerprints | found.fingerprints)


def known_lessons(connection: Connection, found: Known) -> list[Known]:
    """The lessons of the logbook that a folder may hold: those with its id, or with any of its clips."""
    shares = select(CLIPS.c.lesson_id).where(CLIPS.c.fingerprint.in_(found.fingerprints))
    rows = connection.execute(
        select(LESSONS.c.id, LESSONS.c.name_as_entered, LESSONS.c.folder).where(
            or_(LESSONS.c.id == found.lesson, LESSONS.c.id.in_(shares))
        )
    ).all()
    return [
        Known(row.id, row.name_as_entered, Path(row.folder), _fingerprints(connection, row.id)) for row in rows
    ]


def _fingerprints(connection: Connection, lesson: str) -> frozenset[str]:
    return frozenset(connection.execute(select(CLIPS.c.fingerprint).where(CLIPS.c.lesson_id == lesson)).scalars())


def _stands_elsewhere(kept: Known, found: Known) -> bool:
    return kept.folder != found.folder and read_id(kept.folder) == kept.lesson
