"""Parquet files, Arrow tables and pandas frames as sheets: cells keep their types."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from perennia.errors import IntakeError
from perennia.intake.sheets import Part, Sheet, blank_as_missing, checked_headings, filled, text_array

# of parts that fit near the processor, the memory of one is used again for the next: larger ones take a sixth longer
_PART_ROWS = 131_072
_FIRST_DAY, _LAST_DAY = (day.toordinal() - date(1970, 1, 1).toordinal() for day in (date.min, date.max))


def read_parquet(path: Path) -> Sheet:
    """A Parquet file as a sheet; its first row is row 1. Raises IntakeError."""
    try:
        with pq.ParquetFile(path) as file:
            names, count = file.schema_arrow.names, file.metadata.num_rows
    except (OSError, ValueError, NotImplementedError, pa.ArrowException) as error:
        raise IntakeError(f"{path} cannot be read as Parquet ({error}); write it anew, or as CSV") from error
    return Sheet(path.name, "", checked_headings(str(path), names), lambda: _file_parts(path), count=count)


def _file_parts(path: Path) -> Iterator[Part]:
    first = 1
    try:
        with pq.ParquetFile(path) as file:
            for batch in file.iter_batches(_PART_ROWS):
                yield _part(batch, first, str(path))
                first += batch.num_rows
    except IntakeError:
        raise
    except (OSError, ValueError, NotImplementedError, pa.ArrowException) as error:
        raise IntakeError(f"{path} cannot be read after row {first - 1} ({error}); write it anew, or as CSV") from error


def arrow_sheet(table: pa.Table) -> Sheet:
    """An Arrow table as a sheet; its first row is row 1."""
    names = checked_headings("the table", table.column_names)
    return Sheet("the table", "", names, lambda: _table_parts(table), count=table.num_rows)


def _table_parts(table: pa.Table) -> Iterator[Part]:
    first = 1
    for batch in table.to_batches(_PART_ROWS):
        yield _part(batch, first, "the table")
        first += batch.num_rows


def frame_sheet(frame: pd.DataFrame) -> Sheet:
    """A pandas frame as a sheet, a named index as its first columns; its first row is row 1."""
    whole = _with_index(frame) if any(name is not None for name in frame.index.names) else frame
    names = [_heading(name) for name in whole.columns]
    told = checked_headings("the frame", names)
    columns = [_frame_column(whole.iloc[:, place], name) for place, name in enumerate(told)]
    rows = pa.array(np.arange(1, len(whole) + 1))
    return Sheet("the frame", "", told, lambda: iter([filled(columns, rows)]), count=len(rows))


def _with_index(frame: pd.DataFrame) -> pd.DataFrame:
    try:
        return frame.reset_index()
    except ValueError as error:
        names = ", ".join(str(name) for name in frame.index.names)
        raise IntakeError(
            f"the frame has an index named {names}, and a column of that name as well; rename one, or drop the index"
        ) from error


def _heading(name: Any) -> str:
    """A column's name; its parts parted by points where it has several."""
    if isinstance(name, tuple):
        return ".".join(str(part) for part in name if part != "")
    return str(name)


def _frame_column(values: pd.Series, name: str) -> pa.Array:
    where = f"the frame, column {name!r}"
    try:
        column = pa.Array.from_pandas(values)
    # values of several kinds in one column, as a frame read from a spreadsheet has them, and all that objects can be
    except Exception:
        return _texts(values.tolist(), where, 1)
    return _plain(column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column, where, 1)


def _part(batch: pa.RecordBatch, first: int, told: str) -> Part:
    rows = pa.array(np.arange(first, first + batch.num_rows))
    named = zip(batch.schema.names, batch.columns, strict=True)
    return filled([_plain(column, f"{told}, column {name!r}", first) for name, column in named], rows)


def _plain(column: pa.Array, where: str, first: int) -> pa.Array:
    """The cells of a column, the first of which stands in row first. Raises IntakeError for what is no text."""
    try:
        # a table can say of its bytes that they are text or an index when they are not
        column.validate(full=True)
        return _by_type(column, where, first)
    except (pa.ArrowException, NotImplementedError) as error:
        raise IntakeError(f"{where} cannot be read ({error}); write it as text, numbers or days") from error


def _texts(values: Sequence[Any], where: str, first: int) -> pa.Array:
    try:
        return text_array(values)
    # values of any library can be among them, and raise whatever they raise when asked for their text
    except Exception as error:
        row = first + next((place for place, value in enumerate(values) if not _is_text(value)), 0)
        raise IntakeError(f"{where} row {row} cannot be read ({error}); write it as text, a number or a day") from error


def _is_text(value: Any) -> bool:
    try:
        text_array([value])
    except Exception:
        return False
    return True


def _by_type(column: pa.Array, where: str, first: int) -> pa.Array:
    """A column of a type that cells are read from: text, numbers, flags, days; all else as text, NaN as missing."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        return _by_type(column.dictionary_decode(), where, first)
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        return blank_as_missing(column.cast(pa.string()))
    if pa.types.is_floating(kind):
        return pa.Array.from_pandas(column.cast(pa.float64()).to_numpy(zero_copy_only=False))
    if pa.types.is_integer(kind) or pa.types.is_boolean(kind) or pa.types.is_null(kind):
        return column
    if pa.types.is_date(kind) or (pa.types.is_timestamp(kind) and kind.tz is None):
        return _days(column)
    return _texts(_values(column, where), where, first)


def _days(column: pa.Array) -> pa.Array:
    """Days; as text, which is told as no day, where one lies in no year of four digits."""
    days = column.cast(pa.date32(), safe=False)
    ends = pc.min_max(days.cast(pa.int32())).as_py()
    if ends["min"] is None or (ends["min"] >= _FIRST_DAY and ends["max"] <= _LAST_DAY):
        return days
    return column.cast(pa.string())


def _values(column: pa.Array, where: str) -> list[Any]:
    try:
        return list(column.to_pylist())
    # instants beyond the calendar, zones nobody knows: each kind of column has errors of its own
    except Exception as error:
        raise IntakeError(f"{where} cannot be read ({error}); write it as text, numbers or days") from error
