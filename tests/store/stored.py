"""Batches made from records, and gardens looked at, for the tests of the store."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pyarrow as pa

from perennia.records.base import Record
from perennia.store.schemas import POSITION, TABLES, content_hash, to_tables, uuid7
from perennia.store.snapshot import Snapshot, read_snapshot, read_table
from perennia.store.writing import Writer, writer

NOW = datetime(2024, 8, 1, 12, tzinfo=UTC)
CHILD = Path(__file__).with_name("crashing_writer.py")


def batch_of(*records: Record) -> dict[str, pa.Table]:
    """Rows ready to commit: candidate rows with ids and hashes."""
    ids = [uuid7() for _ in records]
    ready = {}
    for table, rows in to_tables(records).items():
        named = pa.array([ids[place] for place in rows[POSITION].to_pylist()], pa.binary())
        rows = rows.set_column(rows.column_names.index("record_id"), "record_id", named)
        ready[table] = rows.set_column(rows.column_names.index("content"), "content", content_hash(rows))
    return ready


def put(held: Writer, *records: Record) -> Snapshot:
    """Commit records as one batch."""
    return held.commit(batch_of(*records), "record", len(records), (), NOW)


def put_in(root: Path, *records: Record) -> Snapshot:
    """Commit records as one batch with a writer of their own."""
    with writer(root) as held:
        return put(held, *records)


def row_counts(root: Path) -> dict[str, int]:
    """Rows a reader sees in each record table that has any."""
    snapshot = read_snapshot(root)
    counts = {table: read_table(snapshot, table).num_rows for table in TABLES if table != "batches"}
    return {table: count for table, count in counts.items() if count}


def kinds(root: Path) -> list[str]:
    """The kinds of all batches, in order."""
    rows = read_table(read_snapshot(root), "batches").sort_by("batch")
    return [str(kind) for kind in rows["kind"].to_pylist()]


def run_child(root: Path, action: str, *crash: str) -> subprocess.CompletedProcess[str]:
    """Run a writer in a process of its own; crash names the call at which it kills itself."""
    command = [sys.executable, str(CHILD), str(root), action, *crash]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
