"""Swings and tracks as pandas data frames. pandas is asked for only here, and only when a frame is made."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from balltrack.errors import RecordError
from balltrack.records.columns import column_kinds, flat
from balltrack.records.store import TRACK_COLUMNS, track_path
from balltrack.records.swing import Swing

if TYPE_CHECKING:
    from pandas import DataFrame

OLDEST_PANDAS = 3  # the first whose words are words, with NaN where there are none
DTYPES = {str: "str", int: "Int64", float: "float64"}
UNIT_BY_ENDING = {  # of a column's name; the longest ending that fits
    "_mps": "m/s",
    "_deg": "°",
    "_m": "m",
    "_m2": "m²",
    "_s": "s",
    "_px": "px",
    "_probability": "0 to 1",
}


def swings_frame(swings: Sequence[Swing], titles: Mapping[str, str] | None = None) -> "DataFrame":
    """One row a swing, indexed by its ``number`` in swings.jsonl, from 1.

    Parameters
    ----------
    swings : sequence of Swing
        All of a lesson, in their order.
    titles : mapping of str to str, optional
        Titles of blocks by name, for the column ``block_title``; a block without one is called by its name.

    Returns
    -------
    DataFrame
        Columns are the record's fields, with a column for each number of a vector (``contact_x_m``), ``counts``
        (False where a person left the swing out: ``excluded`` says why) and ``block_title``. SI and degrees;
        ``attrs["units"]`` has the unit of each column. What could not be had is NaN, <NA> in whole numbers.

    Raises
    ------
    RecordError
        If pandas is not installed.
    """
    pandas = _pandas()
    index = pandas.RangeIndex(1, len(swings) + 1, name="number")
    rows = [flat(asdict(swing)) for swing in swings]
    columns = {
        name: pandas.Series([row[name] for row in rows], index, DTYPES[kind]) for name, kind in column_kinds().items()
    }
    frame: DataFrame = pandas.DataFrame(columns)
    names = titles or {}
    frame.insert(3, "block_title", pandas.Series([names.get(each.block, each.block) for each in swings], index, "str"))
    frame.insert(4, "counts", pandas.Series([not each.excluded for each in swings], index, "bool"))
    frame.attrs["units"] = units_of(frame.columns)
    return frame


def track_frame(results: Path, swing: Swing) -> "DataFrame":
    """One row for each frame of the clip in which the ball of a swing was sought; none where none was followed.

    Parameters
    ----------
    results : Path
        The lesson's results folder.
    swing : Swing

    Returns
    -------
    DataFrame
        ``time_s`` (clip time, middle of the exposure of the ball's row), ``u_px``, ``v_px`` (right and down from the
        centre of the upright picture's top left pixel), ``diameter_px``, ``used`` (whether the flight is fitted to it),
        ``source`` (motion, network, both or hand) and ``reason`` (why it is not used). NaN where it was not found.
        ``attrs["units"]`` has the units.

    Raises
    ------
    RecordError
        If pandas is not installed, or the clip's file of tracks cannot be read.
    """
    pandas = _pandas()
    path = results / track_path(swing.clip)
    words = ("swing", "source", "reason")
    kinds = {name: "str" if name in words else "int64" if name == "used" else "float64" for name in TRACK_COLUMNS}
    try:
        found: DataFrame = pandas.read_csv(path, dtype=kinds, index_col=False, na_values=[""], keep_default_na=False)
        rows = found.loc[found["swing"] == swing.swing, list(TRACK_COLUMNS[1:])].reset_index(drop=True)
    except (OSError, ValueError, KeyError) as error:
        why = " ".join(str(error).split())
        raise RecordError(f"{path} cannot be read ({why}); measure the lesson again: balltrack measure") from None
    frame = rows.fillna({"source": "", "reason": ""}).astype({"used": "bool"})
    frame.attrs["units"] = units_of(frame.columns)
    return frame


def units_of(columns: Iterable[str]) -> dict[str, str]:
    """The unit of each column that has one, by the ending of its name."""
    endings = sorted(UNIT_BY_ENDING, key=len, reverse=True)
    found = {name: next((end for end in endings if name.endswith(end)), None) for name in columns}
    return {name: UNIT_BY_ENDING[end] for name, end in found.items() if end}


def _pandas() -> ModuleType:
    try:
        import pandas
    except ImportError as error:
        raise RecordError(f"data frames need pandas ({error}): pip install 'pandas>={OLDEST_PANDAS}'") from None
    if int(pandas.__version__.split(".")[0]) < OLDEST_PANDAS:
        raise RecordError(
            f"data frames need pandas {OLDEST_PANDAS} or newer, found {pandas.__version__}: "
            f"pip install 'pandas>={OLDEST_PANDAS}'"
        )
    return pandas
