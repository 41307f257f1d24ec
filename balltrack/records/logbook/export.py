"""The logbook as one file for other programs: a row for each swing, SI, with whose it is and when.

All that the logbook holds of a player is in it, but for the fingerprints of clips. A lesson without swings has one row.
"""

import csv
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from balltrack.errors import LogbookError
from balltrack.records.atomic import write_atomic
from balltrack.records.columns import column_kinds, flat
from balltrack.records.logbook.entry import BlockEntry
from balltrack.records.logbook.read import KeptLesson
from balltrack.records.parquet_file import parquet_bytes
from balltrack.records.swing import Swing

Row = dict[str, Any]


def export(path: Path, lessons: Sequence[KeptLesson]) -> int:
    """Write .csv, .parquet or .jsonl by the file's ending; returns how many swings.

    Raises
    ------
    LogbookError
        If the ending is another.
    RecordError
        If the file cannot be written.
    """
    written = WRITERS.get(path.suffix.lower())
    if written is None:
        raise LogbookError(f"{path.name} must end in {', '.join(WRITERS)}: that says what is written")
    write_atomic(path, written(lessons))
    return sum(len(lesson.swings) for lesson in lessons)


def rows_of(lessons: Sequence[KeptLesson]) -> list[Row]:
    """A row for each swing: of the lesson, the block, and every field of the record. Null is what could not be had."""
    return [row for lesson in lessons for row in _lesson_rows(lesson)]


def table_of(lessons: Sequence[KeptLesson]) -> list[Row]:
    """The same with a column for each number: vectors in parts, lists as words."""
    return [flat(row) for row in rows_of(lessons)]


def _lesson_rows(lesson: KeptLesson) -> list[Row]:
    head = {
        "player_code": lesson.player.code,
        "player": lesson.player.name,
        "lesson": lesson.id,
        "held_on": lesson.held_on.isoformat(),
        "date_source": lesson.date_source,
        "lesson_folder": lesson.folder,
        "bats": lesson.bats,
        "ball": lesson.ball,
    }
    return swing_rows(head, lesson.blocks, lesson.swings)


def swing_rows(head: Row, blocks: Sequence[BlockEntry], swings: Sequence[Swing]) -> list[Row]:
    """A row for each swing of a lesson after what ``head`` says of the lesson; one row where there is no swing."""
    by_name = {block.name: block for block in blocks}
    none = dict.fromkeys(each.name for each in fields(Swing))
    if not swings:
        return [head | {"number": None} | _block_words(None) | none]
    return [
        head | {"number": number} | _block_words(by_name.get(swing.block)) | asdict(swing)
        for number, swing in enumerate(swings, start=1)
    ]


def _block_words(block: BlockEntry | None) -> Row:
    return {"block_title": block and block.title, "delivery": block and block.delivery}


HEAD = ("player_code", "player", "lesson", "held_on", "date_source", "lesson_folder", "bats", "ball")


def table_columns(head: Sequence[str]) -> dict[str, type]:
    """Name and type of every column of a table of swings, in order; there even where no row is."""
    kinds: dict[str, type] = dict.fromkeys(head, str)
    kinds |= {"number": int, "block_title": str, "delivery": str}
    return kinds | column_kinds()


def _csv(lessons: Sequence[KeptLesson]) -> bytes:
    """Empty cells are what could not be had; lines end in CRLF (RFC 4180). The mark at its head tells it is UTF-8."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(table_columns(HEAD)))
    writer.writeheader()
    writer.writerows(table_of(lessons))
    return text.getvalue().encode("utf-8-sig")


def _parquet(lessons: Sequence[KeptLesson]) -> bytes:
    return parquet_bytes(table_of(lessons), table_columns(HEAD), days=("held_on",))


def _jsonl(lessons: Sequence[KeptLesson]) -> bytes:
    lines = (json.dumps(row, ensure_ascii=False, allow_nan=False) + "\n" for row in rows_of(lessons))
    return "".join(lines).encode()


WRITERS: dict[str, Callable[[Sequence[KeptLesson]], bytes]] = {".csv": _csv, ".parquet": _parquet, ".jsonl": _jsonl}
