"""Parquet files, Arrow tables and pandas frames as sheets: cells keep their types."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from perennia.errors import IntakeError
from perennia.intake.sheets import Part, Sheet, blank_as_missing, checked_headings, filled, text_array

_PART_ROWS = 500_000


def read_parquet(path: Path) -> Sheet:
    """A Parquet file as a sheet; its first row is row 1. Raises IntakeError."""
    try:
        names = pq.ParquetFile(path).schema_arrow.names
    except FileNotFoundError as error:
        raise IntakeError(f"there is no file {path}; check the name and the folder") from error
    except (OSError, ValueError, pa.ArrowException) as error:
        raise IntakeError(f"{path} cannot be read as Parquet ({error})") from error
    return Sheet(path.name, "", checked_headings(str(path), names), lambda: _file_parts(path))


def _file_parts(path: Path) -> Iterator[Part]:
    first = 1
    try:
        with pq.ParquetFile(path) as file:
            for batch in file.iter_batches(_PART_ROWS):
                yield _part(batch, first)
                first += batch.num_rows
    except (OSError, ValueError, pa.ArrowException) as error:
        raise IntakeError(f"{path} cannot be read after row {first - 1} ({error})") from error


def arrow_sheet(table: pa.Table) -> Sheet:
    """An Arrow table as a sheet; its first row is row 1."""
    return Sheet("the table", "", checked_headings("the table", table.column_names), lambda: _table_parts(table))


def _table_parts(table: pa.Table) -> Iterator[Part]:
    first = 1
    for batch in table.to_batches(_PART_ROWS):
        yield _part(batch, first)
        first += batch.num_rows


def frame_sheet(frame: pd.DataFrame) -> Sheet:
    """A pandas frame as a sheet, a named index as its first columns; its first row is row 1."""
    whole = frame.reset_index() if any(name is not None for name in frame.index.names) else frame
    names = [str(name) for name in whole.columns]
    columns = [_frame_column(whole.iloc[:, place]) for place in range(len(names))]
    told = checked_headings("the frame", names)
    rows = pa.array(np.arange(1, len(whole) + 1))
    return Sheet("the frame", "", told, lambda: iter([filled(columns, rows)]))


def _frame_column(values: pd.Series) -> pa.Array:
    try:
        column = pa.Array.from_pandas(values)
    except pa.ArrowException:
        # values of several kinds in one column, as a frame read from a spreadsheet has them
        return text_array(values.tolist())
    return _plain(column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column)


def _part(batch: pa.RecordBatch, first: int) -> Part:
    rows = pa.array(np.arange(first, first + batch.num_rows))
    return filled([_plain(column) for column in batch.columns], rows)


def _plain(column: pa.Array) -> pa.Array:
    """A column of a type that cells are read from: text, numbers, flags, days; all else as text, NaN as missing."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        return _plain(column.dictionary_decode())
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        return blank_as_missing(column.cast(pa.string()))
    if pa.types.is_floating(kind):
        return pa.Array.from_pandas(column.cast(pa.float64()).to_numpy(zero_copy_only=False))
    if pa.types.is_integer(kind) or pa.types.is_boolean(kind) or pa.types.is_null(kind):
        return column
    if pa.types.is_date(kind) or (pa.types.is_timestamp(kind) and kind.tz is None):
        return column.cast(pa.date32(), safe=False)
    return text_array(column.to_pylist())
