"""Tables for programs as Parquet: typed columns, null where something could not be had."""

import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def parquet_bytes(rows: Iterable[Mapping[str, Any]], kinds: Mapping[str, type], days: Sequence[str] = ()) -> bytes:
    """A table as a Parquet file.

    Parameters
    ----------
    rows : iterable of mappings
        Values by column; None is null.
    kinds : mapping
        Name and type (str, int, float) of every column, in order; there even where no row is.
    days : sequence of str
        Columns of dates, given as ISO text.
    """
    import pyarrow as pa
    from pyarrow import parquet

    types = {str: pa.string(), int: pa.int64(), float: pa.float64()}
    schema = pa.schema([(name, types[kind]) for name, kind in kinds.items()])
    table = pa.Table.from_pylist(list(rows), schema=schema)
    for day in days:
        table = table.set_column(schema.get_field_index(day), day, table[day].cast(pa.date32()))
    file = io.BytesIO()
    parquet.write_table(table, file)
    return file.getvalue()
