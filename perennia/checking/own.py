"""inside.own: what the batch itself says, by record and label."""

from __future__ import annotations

from collections.abc import Collection

import duckdb

from perennia.store.schemas import POSITION, TABLES


def make_own(connection: duckdb.DuckDBPyConnection, tables: Collection[str]) -> None:
    """One row is one record of the batch, one label it speaks of (missing when none), and its place in the batch."""
    parts = ["SELECT CAST(NULL AS BLOB) AS record_id, CAST(NULL AS VARCHAR) AS label, 0 AS batch_position WHERE false"]
    for table in tables:
        label = "label" if "label" in TABLES[table].names else "NULL"
        parts.append(f"SELECT record_id, {label}, {POSITION} FROM inside.{table}_added")
        if "into" in TABLES[table].names:
            parts.append(f'SELECT record_id, unnest("into"), {POSITION} FROM inside.{table}_added')
    connection.execute(f"CREATE OR REPLACE VIEW inside.own AS {' UNION ALL '.join(parts)}")
