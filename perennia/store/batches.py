"""A batch is the only commit: every table first, then the row in ``batches`` that makes them count."""

from __future__ import annotations

import json
import time
import uuid
from datetime import datetime
from pathlib import Path

import attrs
import pyarrow as pa
import pyarrow.compute as pc
from deltalake.transaction import AddAction

from perennia.store.durable import fsync_folder, write_parquet
from perennia.store.log import Change, commit_change
from perennia.store.schemas import PARTITIONED, SORTED_BY, TABLES
from perennia.store.snapshot import Snapshot, read_table
from perennia.store.sorting import sorted_pieces


@attrs.frozen
class Entry:
    """What the row of a batch says beside the versions. kind: create, record, correct, compact or heal."""

    batch: int
    recorded_at: datetime
    kind: str
    records: int
    placed_labels: tuple[str, ...]


def write_files(root: Path, table: str, rows: pa.Table, *, changes_data: bool = True) -> tuple[AddAction, ...]:
    """Write rows into new files of a table, one a year where it is partitioned, sorted, and on the disk."""
    rows = rows.select(TABLES[table].names)
    if table in PARTITIONED:
        years = sorted(pc.unique(rows["year"]).to_pylist())
        alone = len(years) == 1
        parts = [(year, rows if alone else rows.filter(pc.equal(rows["year"], year))) for year in years]
    else:
        parts = [(None, rows)] if rows.num_rows else []
    added = tuple(_write_file(root, table, year, part, changes_data) for year, part in parts)
    for folder in {(root / table / add.path).parent for add in added}:
        fsync_folder(folder)
    fsync_folder(root / table)
    return added


def _write_file(root: Path, table: str, year: int | None, rows: pa.Table, changes_data: bool) -> AddAction:
    name = f"{uuid.uuid4().hex}.parquet"
    path = name if year is None else f"year={year}/{name}"
    if year is not None:
        (root / table / f"year={year}").mkdir(exist_ok=True)
        rows = rows.drop_columns(["year"])
    schema = pa.schema([TABLES[table].field(column) for column in rows.column_names])
    size = write_parquet(root / table / path, schema, sorted_pieces(rows, schema, SORTED_BY[table]))
    stats: dict[str, object] = {"numRecords": rows.num_rows}
    if table == "batches":
        newest = pc.max(rows["batch"]).as_py()
        stats |= {"minValues": {"batch": pc.min(rows["batch"]).as_py()}, "maxValues": {"batch": newest}}
    years: dict[str, str | None] = {} if year is None else {"year": str(year)}
    return AddAction(path, size, years, int(time.time() * 1000), changes_data, json.dumps(stats))


def commit_batch(
    snapshot: Snapshot,
    changes: dict[str, Change],
    entry: Entry,
    *,
    restored: dict[str, int] | None = None,
    fold_batches: bool = False,
) -> Snapshot:
    """Commit changes to tables as one batch and give the garden after it.

    The data files must be on the disk. restored has the new versions of tables that were brought back.
    fold_batches rewrites the table of batches to one file in the same commit that adds this one.
    """
    root = Path(snapshot.root)
    versions = {**snapshot.versions, **(restored or {})}
    files = dict(snapshot.files)
    for table, change in changes.items():
        versions[table] = commit_change(root, table, versions[table], change)
        files[table] = _files_after(root, table, files[table], change)
    row = entry_row(entry, versions)
    if fold_batches:
        rows = pa.concat_tables([read_table(snapshot, "batches"), row])
        change = Change(write_files(root, "batches", rows), snapshot.files["batches"])
    else:
        change = Change(write_files(root, "batches", row))
    versions["batches"] = commit_change(root, "batches", versions["batches"], change)
    files["batches"] = _files_after(root, "batches", files["batches"], change)
    return Snapshot(snapshot.root, entry.batch, entry.recorded_at, files, versions, entry.placed_labels)


def entry_row(entry: Entry, versions: dict[str, int]) -> pa.Table:
    """One row for the table of batches."""
    named = {table: version for table, version in versions.items() if table != "batches"}
    row = {
        "batch": entry.batch,
        "recorded_at": entry.recorded_at,
        "kind": entry.kind,
        "records": entry.records,
        "versions": json.dumps(named),
        "placed_labels": list(entry.placed_labels),
    }
    return pa.Table.from_pylist([row], schema=TABLES["batches"])


def _files_after(root: Path, table: str, files: tuple[str, ...], change: Change) -> tuple[str, ...]:
    added = [str(root / table / add.path) for add in change.adds]
    return tuple(sorted({*files, *added} - set(change.replaced)))
