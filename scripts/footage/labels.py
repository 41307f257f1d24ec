"""Where a person saw the ball in a clip, frame by frame."""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.units import Floats

COLUMNS = ("frame", "time_s", "state", "u_px", "v_px", "diameter_px", "streak_px", "visible")
STATES = ("flight", "held", "rest", "hidden")
LABEL_ERROR_PX = 2.0  # the labels' own README: 1 to 2 px
LEAST_REACH_PX = 3.0  # nearer than that to the label is near enough, however small the ball


@dataclass(frozen=True, slots=True)
class Label:
    """The ball in one frame."""

    frame: int
    time_s: float  # as the file says it
    state: str  # one of STATES
    u_px: float  # middle of the streak; NaN where nothing shows
    v_px: float
    diameter_px: float
    streak_px: float  # the ball's own diameter included
    visible: float  # share, 0 to 1

    @property
    def centre_px(self) -> Floats:
        """(2,) middle of the streak."""
        return np.array([self.u_px, self.v_px])

    @property
    def reach_px(self) -> float:
        """How far from its middle a find still is this ball: on its disc with the label's error, or on its streak."""
        return max(LEAST_REACH_PX, 0.5 * self.diameter_px + LABEL_ERROR_PX, 0.5 * self.streak_px)


def read_labels(path: Path) -> list[Label]:
    """Read a label file.

    Raises
    ------
    ValueError
        If a column, a state or a number is not what ``COLUMNS`` and ``STATES`` allow, with its line.
    """
    with path.open(encoding="utf-8", newline="") as file:
        table = csv.DictReader(file)
        if tuple(table.fieldnames or ()) != COLUMNS:
            raise ValueError(f"{path.name} has columns {table.fieldnames}, not {', '.join(COLUMNS)}")
        return [_label(row, f"{path.name}, line {table.line_num}") for row in table]


def _label(row: dict[str, str], where: str) -> Label:
    if row["state"] not in STATES:
        raise ValueError(f"{where}: state {row['state']!r} is none of {', '.join(STATES)}")
    try:
        numbers = [float(row[name] or "nan") for name in COLUMNS[3:]]
        return Label(int(row["frame"]), float(row["time_s"]), row["state"], *numbers)
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from None
