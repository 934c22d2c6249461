"""The one way from query results to pandas: nullable types, and missing stays missing."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from perennia.errors import ArgumentError
from perennia.source import As

_NUMBERS = {True: "Int64", False: "Float64"}


def shaped(table: pa.Table, as_: As) -> pd.DataFrame | pa.Table:
    """The table as pandas or arrow. Raises ArgumentError for another word."""
    if as_ not in ("pandas", "arrow"):
        raise ArgumentError(f"as_ is {as_!r}; choose 'pandas' or 'arrow'")
    return to_pandas(table) if as_ == "pandas" else table


def to_pandas(table: pa.Table) -> pd.DataFrame:
    """A frame with a RangeIndex and the table's columns in their order.

    Whole numbers become Int64, other numbers Float64, flags boolean, text string, days and instants
    datetime64[s] (UTC taken off), ids bytes as they are, lists tuples. Missing is pd.NA or NaT.
    """
    names = table.column_names
    series = [_series(table.column(index), table.schema.field(index).type) for index in range(len(names))]
    frame = pd.DataFrame(dict(enumerate(series)), index=pd.RangeIndex(table.num_rows), copy=False)
    frame.columns = pd.Index(names, dtype=object)
    return frame


def _series(column: pa.ChunkedArray, kind: pa.DataType) -> Any:
    if pa.types.is_boolean(kind):
        return pd.arrays.BooleanArray(_filled(column, False), _missing(column))
    if pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind):
        return _numbers(column, whole=pa.types.is_integer(kind))
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        return _texts(column)
    if pa.types.is_date(kind) or pa.types.is_timestamp(kind):
        plain = column.cast(pa.timestamp("s"), safe=False).combine_chunks()
        return pd.Series(plain.to_numpy(zero_copy_only=False).astype("datetime64[s]"))
    if pa.types.is_null(kind):
        return pd.array([None] * len(column), dtype="string")
    values = [tuple(item) if isinstance(item, list) else item for item in column.to_pylist()]
    return pd.Series(values, dtype=object)


def _texts(column: pa.ChunkedArray) -> pd.arrays.StringArray:
    # cells that say the same share one text: a text a cell takes three times as long, and far more memory
    texts = np.array(column.to_pandas(deduplicate_objects=True), dtype=object)
    texts[_missing(column)] = pd.NA
    return pd.arrays.StringArray(texts)


def _numbers(column: pa.ChunkedArray, *, whole: bool) -> Any:
    values = _filled(column.cast(pa.int64() if whole else pa.float64(), safe=False), 0)
    kind = pd.arrays.IntegerArray if whole else pd.arrays.FloatingArray
    return kind(values, _missing(column))


def _missing(column: pa.ChunkedArray) -> npt.NDArray[np.bool_]:
    return np.array(column.is_null(), dtype=bool)


def _filled(column: pa.ChunkedArray, empty: object) -> npt.NDArray[Any]:
    """The values with something in place of what is missing, in memory of their own, for a frame may be changed."""
    values = np.asarray(column.fill_null(empty))
    # Arrow may hand out its own memory, which cannot be written, also to who asks for a copy
    return values if values.flags.writeable else values.copy()
