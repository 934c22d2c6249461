"""Gardens in small for test_door.py: functions that a process of its own can import and open a connection with."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from perennia.errors import StoreError
from perennia.queries.door import lock_connection

VIEWS = ("harvest", "season_summary")


def write_rows(folder: Path) -> None:
    """Invented rows: two views' files, and one file beside them that nobody may read."""
    folder.mkdir(exist_ok=True)
    pq.write_table(
        pa.table({"label": ["A1", "A1", "A2"], "season": [2023, 2024, 2024], "grams": [120.0, 80.5, None]}),
        folder / "harvest's.parquet",
    )
    pq.write_table(pa.table({"label": ["A1", "A2"], "crop": ["rhubarb", "dahlia"]}), folder / "summary.parquet")
    pq.write_table(pa.table({"secret": [1]}), folder / "secret.parquet")


def pinned_files(folder: Path) -> list[str]:
    return [str(folder / "harvest's.parquet"), str(folder / "summary.parquet")]


def open_with_views(folder: Path) -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    for view, file in zip(VIEWS, pinned_files(folder), strict=True):
        connection.execute(f"set variable {view}_files = ?", [[file]])
        connection.execute(f"create view {view} as select * from read_parquet(getvariable('{view}_files'))")
    return connection


def open_locked(folder: Path, memory_limit: str | None = "100MiB") -> duckdb.DuckDBPyConnection:
    connection = open_with_views(folder)
    lock_connection(connection, pinned_files(folder), memory_limit=memory_limit, threads=1)
    return connection


def open_and_die() -> duckdb.DuckDBPyConnection:
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError


def open_and_fail() -> duckdb.DuckDBPyConnection:
    raise StoreError("the folder is gone")


def open_and_break() -> duckdb.DuckDBPyConnection:
    raise OSError("the disk is gone")


def open_and_print() -> duckdb.DuckDBPyConnection:
    print("noise on standard output")
    return duckdb.connect()
