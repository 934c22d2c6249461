"""A connection that reads stored Parquet files, and takes no variable of the program for a table."""

from __future__ import annotations

import duckdb


def reading() -> duckdb.DuckDBPyConnection:
    """A new connection, to be closed by who asked for it."""
    return duckdb.connect(":memory:", config={"python_enable_replacements": False})
