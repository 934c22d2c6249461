"""A connection that reads stored Parquet files, and takes no variable of the program for a table."""

from __future__ import annotations

import duckdb

from perennia.store.schemas import PARTITIONED


def reading() -> duckdb.DuckDBPyConnection:
    """A new connection, to be closed by who asked for it."""
    connection = duckdb.connect(":memory:", config={"python_enable_replacements": False})
    # what a library prints on its own spoils what its user prints
    connection.execute("SET enable_progress_bar = false")
    # files are never changed once written, so that what their ends say is read once
    connection.execute("SET parquet_metadata_cache = true")
    return connection


def stored_rows(table: str, files: str) -> str:
    """SQL of all rows of a table's Parquet files, which files names. A table in partitions has their year.

    Nothing is taken from what folders are called: a garden may lie in one called label=A1.
    """
    year = ", CAST(year(on_to) AS INTEGER) AS year" if table in PARTITIONED else ""
    return f"SELECT *{year} FROM read_parquet({files}, union_by_name = true, hive_partitioning = false)"
