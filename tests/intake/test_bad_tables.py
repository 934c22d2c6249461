"""Tables and frames of columns and objects of every kind: read, or told in words, and nothing half-stored."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import perennia as pn
from perennia.errors import IntakeError, PerenniaError, RefusedError
from perennia.intake import IntakeReport, read
from tests.intake.bad_books import good, outcome
from tests.intake.books import TODAY

COLUMNS: dict[str, pa.Array] = {
    "struct": pa.array([{"a": 1}]), "list": pa.array([["B1", "B2"]]), "lists": pa.array([[["B1"]]]),
    "decimal": pa.array([Decimal("1.5")]), "wide decimal": pa.array([Decimal("1.5")], pa.decimal256(60, 5)),
    "time": pa.array([time(1, 2, 3)]), "duration": pa.array([timedelta(days=2)]), "binary": pa.array([b"\xff\0"]),
    "fixed binary": pa.array([b"abcd"], pa.binary(4)), "zoned": pa.array([datetime(2023, 8, 1, tzinfo=UTC)]),
    "far": pa.array([2**62], pa.timestamp("s")), "far zoned": pa.array([2**62], pa.timestamp("us", "UTC")),
    "no zone": pa.array([0], pa.timestamp("us", "Mars/Phobos")), "last day": pa.array([2**31 - 1], pa.date32()),
    "first day": pa.array([-(2**31)], pa.date32()), "uint64": pa.array([2**64 - 1], pa.uint64()),
    "half": pa.array(np.array([1.5], np.float16)), "map": pa.array([[("a", 1)]], pa.map_(pa.string(), pa.int64())),
    "null": pa.nulls(1), "flag": pa.array([True]), "inf": pa.array([np.inf]), "nan": pa.array([np.nan]),
    "int64": pa.array([2**63 - 1]), "NUL": pa.array(["a\0b"]), "words": pa.array(["B1"]).dictionary_encode(),
    "words of words": pa.DictionaryArray.from_arrays(pa.array([0]), pa.array(["B1"]).dictionary_encode()),
    "numbers": pa.array([5]).dictionary_encode(), "view": pa.array(["B1"], pa.string_view()),
    "large": pa.array(["B1"], pa.large_string()), "runs": pa.RunEndEncodedArray.from_arrays([1], ["B1"]),
    "interval": pa.array([pa.MonthDayNano([1, 2, 3])]),
    "union": pa.UnionArray.from_sparse(pa.array([0], pa.int8()), [pa.array(["B1"])]),
    "no text": pa.Array.from_buffers(
        pa.string(), 1, [None, pa.py_buffer(np.array([0, 2], np.int32).tobytes()), pa.py_buffer(b"\xff\xfe")]
    ),
}  # fmt: skip
UNWRITTEN = {"far", "words of words", "runs", "interval", "union", "view"}
"""Kinds that Parquet has not, or that its writer does not write."""


@pytest.mark.parametrize("kind", COLUMNS)
@pytest.mark.parametrize("field", ["labels", "on", "grams"])
def test_columns_of_every_kind_are_read_or_told(garden: pn.Garden, tmp_path: Path, kind: str, field: str) -> None:
    table = pa.table({**good(), field: COLUMNS[kind]})
    by_table = outcome(garden, table)
    if kind not in UNWRITTEN:
        pq.write_table(table, tmp_path / "picked.parquet")
        by_file = outcome(garden, tmp_path / "picked.parquet")
        assert type(by_file) is type(by_table)
        if isinstance(by_file, PerenniaError):
            assert "picked.parquet" in str(by_file)


@pytest.mark.parametrize(
    ("kind", "message"),
    [
        ("no text", "the table, column 'on' cannot be read .Invalid UTF8 sequence"),
        ("far zoned", "the table, column 'on' cannot be read .*; write it as text, numbers or days"),
        ("no zone", "the table, column 'on' cannot be read .*Mars/Phobos"),
        ("last day", "the table row 1, on: '.*2147483647.*' is not an ISO 8601 date"),
    ],
)
def test_days_that_are_none_are_told(garden: pn.Garden, kind: str, message: str) -> None:
    with pytest.raises((IntakeError, RefusedError), match=message):
        read(garden, pa.table({**good(), "on": COLUMNS[kind]}), "picked", book="k", today=TODAY)


def test_tables_without_rows_are_read_and_those_without_columns_told(garden: pn.Garden, tmp_path: Path) -> None:
    none = pa.table(good()).slice(0, 0)
    chunked = pa.table(
        {name: pa.chunked_array([], kind.type) for name, kind in zip(none.column_names, none, strict=True)}
    )
    for table in (none, chunked, none.to_pandas()):
        report = outcome(garden, table)
        assert isinstance(report, IntakeReport), report
        assert report.rows == 0
    for source in (pa.table({}), pd.DataFrame(), pd.DataFrame(index=[1, 2])):
        assert "is empty; its first row must hold the column names" in str(outcome(garden, source))
    pq.write_table(pa.table({}), tmp_path / "picked.parquet")
    assert "is empty" in str(outcome(garden, tmp_path / "picked.parquet"))


class Wordless:
    """A value that cannot be said."""

    def __str__(self) -> str:
        raise RuntimeError("no words")


OBJECTS: dict[str, Any] = {
    "dict": {"a": 1}, "NaT": pd.NaT, "period": pd.Period("2023-08"), "complex": 1 + 2j, "decimal": Decimal("1.5"),
    "no decimal": Decimal("NaN"), "no decimal at all": Decimal("sNaN"), "endless decimal": Decimal("Infinity"),
    "huge decimal": Decimal("1e9999999"), "zoned": pd.Timestamp("2023-08-01", tz="UTC"), "span": pd.Timedelta("3D"),
    "interval": pd.Interval(0, 1), "list": ["B1", "B2"], "set": {"B1"}, "bytes": b"\xff", "wordless": Wordless(),
    "half a character": "\ud800", "NUL": "a\0b", "long number": 10**5000, "large number": 10**400,
    "day": np.datetime64("2023-08-01"), "no day": np.datetime64("NaT"), "far day": np.datetime64(2**60, "Y"),
    "frame": pd.DataFrame({"a": [1]}), "grid": np.zeros((2, 2)), "function": len, "endless": np.inf, "NA": pd.NA,
}  # fmt: skip


@pytest.mark.parametrize("kind", OBJECTS)
@pytest.mark.parametrize("field", ["labels", "on", "grams"])
def test_objects_in_frames_are_read_or_told(garden: pn.Garden, kind: str, field: str) -> None:
    frame = pd.DataFrame(good())
    frame[field] = pd.Series([OBJECTS[kind]], dtype=object)
    ended = outcome(garden, frame)
    if isinstance(ended, PerenniaError):
        assert "the frame" in str(ended)
        assert " row 1" in str(ended)


def framed(**changed: Any) -> pd.DataFrame:
    return pd.DataFrame({**good(), **changed})


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        (
            framed().set_axis(pd.MultiIndex.from_product([["a"], ["labels", "on", "grams"]]), axis=1),
            "a column 'a.labels'",
        ),
        (framed().set_axis(["labels", "on", "on"], axis=1), "several columns for on: on, on"),
        (framed().set_axis([0, 1, 2], axis=1), "has a column '0', which is no field"),
        (framed().set_axis(["labels", "on", None], axis=1), "has a column 'None'"),
        (framed().set_axis(["labels", "on", "\ud800"], axis=1), "a heading with half a character"),
        (framed().rename_axis("labels"), "the frame has an index named labels, and a column of that name as well"),
        (framed(on=pd.Categorical([1])), "on: '1' is not an ISO 8601 date"),
        (framed(grams=pd.Series(["\ud800"], dtype=object)), "the frame, column 'grams' row 1 cannot be read"),
        (framed(grams=pd.Series([Wordless()], dtype=object)), "column 'grams' row 1 cannot be read .no words"),
    ],
)
def test_frames_that_are_no_book_are_told(garden: pn.Garden, frame: pd.DataFrame, message: str) -> None:
    error = outcome(garden, frame)
    with pytest.raises((IntakeError, RefusedError), match=message):
        raise error if isinstance(error, Exception) else AssertionError(error)
