"""Rows of corrected records, kept whole as JSON in ``corrections.old``."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

import pyarrow as pa

from perennia.store.schemas import TABLES


def to_json(rows: pa.Table) -> str:
    """All rows of one record as they are stored, as JSON: missing fields left out, ids and hashes in hex."""
    return json.dumps(
        [{name: _plain(value) for name, value in row.items() if value is not None} for row in rows.to_pylist()],
        ensure_ascii=False,
    )


def from_json(table: str, text: str) -> pa.Table:
    """The rows that to_json wrote, with all columns of the table's schema."""
    schema = TABLES[table]
    rows = [{name: _kept(schema.field(name).type, value) for name, value in row.items()} for row in json.loads(text)]
    return pa.Table.from_pylist(rows, schema=schema)


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.hex()
    return value.isoformat() if isinstance(value, date) else value


def _kept(kind: pa.DataType, value: Any) -> Any:
    if pa.types.is_binary(kind):
        return bytes.fromhex(value)
    if pa.types.is_timestamp(kind):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if pa.types.is_date32(kind) else value
