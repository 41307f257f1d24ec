"""One lesson as a file of its own for other programs: Parquet, a row for each swing, SI, typed columns.

Files of many lessons in one folder are one table to whoever reads the folder.
"""

from balltrack.records.columns import flat
from balltrack.records.logbook.entry import LessonEntry
from balltrack.records.logbook.export import swing_rows, table_columns
from balltrack.records.parquet_file import parquet_bytes

HEAD = ("player", "held_on", "date_source", "lesson_folder", "bats", "ball")


def lesson_parquet(entry: LessonEntry) -> bytes:
    """The lesson as a Parquet file; null is what could not be had. A lesson without swings has one row."""
    head = {
        "player": entry.player,
        "held_on": entry.held_on.isoformat(),
        "date_source": entry.date_source,
        "lesson_folder": entry.lies_at,
        "bats": entry.bats,
        "ball": entry.ball,
    }
    rows = [flat(row) for row in swing_rows(dict(head), entry.blocks, entry.swings)]
    return parquet_bytes(rows, table_columns(HEAD), days=("held_on",))
