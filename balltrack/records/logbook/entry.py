"""A lesson as it is handed to the logbook, and how its clips are known again."""

import datetime
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from balltrack.errors import RecordError
from balltrack.records.swing import Swing

DateSource = Literal["stated", "clips", "files"]  # by a person; when the clips were filmed; when the files were written
END_BYTES = 65536  # of each end of a clip


@dataclass(frozen=True, slots=True)
class ClipEntry:
    name: str  # clips/01-tee/001.mp4
    fingerprint: str  # see fingerprint_of


@dataclass(frozen=True, slots=True)
class BlockEntry:
    name: str  # 01-tee
    title: str
    delivery: str | None  # tee | toss | live


@dataclass(frozen=True, slots=True)
class LessonEntry:
    """All that the logbook keeps of a lesson."""

    player: str  # the name, as lesson.toml has it
    bats: str
    ball: str
    held_on: datetime.date
    date_source: DateSource
    folder: Path
    clips: tuple[ClipEntry, ...]
    blocks: tuple[BlockEntry, ...]  # in the lesson's order
    swings: tuple[Swing, ...]  # in the order of swings.jsonl
    address: str = ""  # where the lesson lies, if the folder is but a mirror of it

    @property
    def lies_at(self) -> str:
        """Where a person finds the lesson."""
        return self.address or str(self.folder)


def fingerprint_of(clip: Path) -> str:
    """32 hex digits that tell a clip from others wherever it lies: of its size, its beginning and its end.

    The whole of a lesson is gigabytes; two films differ in their ends already, where sizes, times and pictures lie.

    Raises
    ------
    RecordError
        If the file cannot be read.
    """
    try:
        size = clip.stat().st_size
        with clip.open("rb") as file:
            first = file.read(END_BYTES)
            file.seek(max(0, size - END_BYTES))
            last = file.read(END_BYTES)
    except OSError as error:
        raise RecordError(f"{clip} cannot be read: {error.strerror or error}; copy it from the phone again") from None
    return fingerprint_from(size, first, last)


def fingerprint_from(size: int, first: bytes, last: bytes) -> str:
    """The same of a clip that lies elsewhere: its size, its first and its last `END_BYTES` bytes, all where fewer."""
    return hashlib.sha256(size.to_bytes(8, "big") + first + last).hexdigest()[:32]
