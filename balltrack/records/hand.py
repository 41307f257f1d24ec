"""Corrections by hand: where a person saw the ball, or none, in single frames of a clip.

``results/tracks/<block>/<clip>.hand.csv`` stands beside the clip's track. Only a person's work writes it; measuring
again leaves it as it is.
"""

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.errors import RecordError
from balltrack.names import shown
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.store import track_path

HAND_COLUMNS = ("time_s", "u_px", "v_px", "diameter_px")


@dataclass(frozen=True, slots=True)
class HandRow:
    """One frame, as a person set it."""

    line: int  # of the file; 0 where it is not written yet
    time_s: float  # the frame's own clip time
    centre_px: tuple[float, float] | None  # u, v of the ball; None where the person saw no ball in the frame
    diameter_px: float  # NaN where there is none


def hand_path(clip: str) -> Path:
    """``clips/01-tee/001.mp4`` -> ``tracks/01-tee/001.hand.csv``, inside the results folder."""
    return track_path(clip).with_suffix(".hand.csv")


def read_hand(path: Path) -> tuple[HandRow, ...]:
    """All rows of a .hand.csv, in its order; none where there is no such file.

    Raises
    ------
    RecordError
        If the file cannot be read or a row is wrong, with its line number.
    """
    try:
        text = read_plain(path).decode("utf-8-sig")  # a spreadsheet puts a byte-order mark first
        reader = csv.reader(io.StringIO(text, newline=""))
        lines = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader if any(cells)]
    except FileNotFoundError:
        return ()
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise RecordError(f"{path} cannot be read ({error}); repair it or move it away") from None
    if not lines or tuple(lines[0][1]) != HAND_COLUMNS:
        found = shown(",".join(lines[0][1])[:120]) if lines else "nothing"
        raise RecordError(f"{path} line 1: the columns must be {','.join(HAND_COLUMNS)}, not {found}")
    rows: dict[float, HandRow] = {}
    for number, cells in lines[1:]:
        try:
            row = _row(number, cells)
            if row.time_s in rows:
                raise ValueError(f"line {rows[row.time_s].line} sets the same frame; delete one of them")
        except ValueError as error:
            raise RecordError(f"{path} line {number}: {error}") from None
        rows[row.time_s] = row
    return tuple(rows.values())


def write_hand(path: Path, rows: Sequence[HandRow]) -> None:
    """Write a .hand.csv in order of time, or take it away where no row is left.

    Raises
    ------
    RecordError
        If two rows set the same time, or the file cannot be written.
    """
    times = [row.time_s for row in rows]
    if len(set(times)) < len(times):
        twice = next(time for time in times if times.count(time) > 1)
        raise RecordError(f"{path}: two corrections of the frame at {twice:.6f} s; give one")
    if rows:
        write_atomic(path, _hand_csv(rows))
    else:
        remove(path)


def remove(path: Path) -> None:
    """Take a file of corrections away, where there is one. Raises RecordError where the system refuses."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise RecordError(f"{path} cannot be taken away: {error.strerror or error}; free the folder") from None


def _hand_csv(rows: Sequence[HandRow]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HAND_COLUMNS)
    for row in sorted(rows, key=lambda each: each.time_s):
        numbers = ("", "", "") if row.centre_px is None else (*row.centre_px, row.diameter_px)
        writer.writerow([f"{row.time_s:.6f}", *(number if number == "" else f"{number:.2f}" for number in numbers)])
    return text.getvalue()


def _row(number: int, cells: Sequence[str]) -> HandRow:
    if len(cells) != len(HAND_COLUMNS):
        raise ValueError(f"{len(cells)} cells; give {len(HAND_COLUMNS)}: {','.join(HAND_COLUMNS)}")
    time_s = _number("time_s", cells[0])
    if not any(cells[1:]):
        return HandRow(number, time_s, None, math.nan)
    if not all(cells[1:]):
        empty = next(name for name, cell in zip(HAND_COLUMNS, cells, strict=True) if not cell)
        raise ValueError(f"{empty} is empty; give it, or leave u_px, v_px and diameter_px all empty where no ball is")
    u_px, v_px, diameter_px = (_number(name, cell) for name, cell in zip(HAND_COLUMNS[1:], cells[1:], strict=True))
    if diameter_px <= 0:
        raise ValueError(f"diameter_px = {diameter_px:g} is no width; give the ball's width in pixels")
    return HandRow(number, time_s, (u_px, v_px), diameter_px)


def _number(name: str, cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        what = f'"{shown(cell[:60])}" is no number' if cell else "is empty"
        raise ValueError(f"{name} {what}; give a number such as 1.25")
    return value
