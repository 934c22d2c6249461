"""A connection that reads stored Parquet files, and takes no variable of the program for a table."""

from __future__ import annotations

import duckdb


def reading() -> duckdb.DuckDBPyConnection:
    """A new connection, to be closed by who asked for it."""
    connection = duckdb.connect(":memory:", config={"python_enable_replacements": False})
    # what a library prints on its own spoils what its user prints
    connection.execute("SET enable_progress_bar = false")
    # files are never changed once written, so that what their ends say is read once
    connection.execute("SET parquet_metadata_cache = true")
    return connection
