"""Many small files made one, corrected rows left out, and files nobody can be reading any more deleted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.store.batches import Entry, commit_batch, write_files
from perennia.store.log import Change, hold_inside, make_checkpoint, open_table, year_of
from perennia.store.schemas import TABLES
from perennia.store.snapshot import Snapshot, read_table

SMALL_FILE_BYTES = 16 * 2**20
MANY_FILES = 32
# a reader holds a snapshot for minutes, a notebook left open for days
KEPT_HOURS = 7 * 24
_NEVER_THINNED = frozenset({"corrections", "batches"})


@attrs.frozen(order=True)
class Partition:
    """One year of a table, or a whole table that is not partitioned (year None)."""

    table: str
    year: int | None


class HoldsSnapshot(Protocol):
    """A writer: it holds the garden's lock and the garden as it stands."""

    snapshot: Snapshot


def compact(
    writer: HoldsSnapshot,
    tables: Sequence[str] | None = None,
    small_file_bytes: int = SMALL_FILE_BYTES,
    at: int = MANY_FILES,
    kept_hours: int = KEPT_HOURS,
) -> tuple[Partition, ...]:
    """Rewrite to one file each partition that has at least ``at`` files smaller than small_file_bytes.

    Rows of corrected records are left out; ``corrections`` keeps them. Everything is one batch of kind
    ``compact``. Then the tables' logs are summed up, and files that no version within kept_hours needs are
    deleted. Gives the partitions rewritten; writer.snapshot is the garden after it.
    """
    due = partitions_due(writer.snapshot, tables, small_file_bytes, at)
    if not due:
        return ()
    writer.snapshot = _folded(writer.snapshot, due)
    root = Path(writer.snapshot.root)
    for table in sorted({partition.table for partition in due}):
        version = writer.snapshot.versions[table]
        make_checkpoint(root, table, version)
        delete_unneeded(root, table, version, kept_hours)
    return tuple(due)


def partitions_due(
    snapshot: Snapshot,
    tables: Sequence[str] | None = None,
    small_file_bytes: int = SMALL_FILE_BYTES,
    at: int = MANY_FILES,
) -> list[Partition]:
    """The partitions that have at least ``at`` files smaller than small_file_bytes."""
    return [
        partition
        for table in (TABLES if tables is None else tables)
        for partition, files in _by_partition(snapshot, table).items()
        if len(files) >= at and sum(Path(file).stat().st_size < small_file_bytes for file in files) >= at
    ]


def _by_partition(snapshot: Snapshot, table: str) -> dict[Partition, list[str]]:
    found: dict[Partition, list[str]] = defaultdict(list)
    for file in snapshot.files[table]:
        found[Partition(table, year_of(file))].append(file)
    return found


def _folded(snapshot: Snapshot, due: list[Partition]) -> Snapshot:
    corrected = read_table(snapshot, "corrections")["record_id"].combine_chunks()
    changes: dict[str, Change] = {}
    for partition in due:
        if partition.table != "batches":
            earlier = changes.get(partition.table, Change())
            change = _fold(snapshot, partition, corrected)
            changes[partition.table] = Change(earlier.adds + change.adds, earlier.replaced + change.replaced)
    entry = Entry(snapshot.batch + 1, datetime.now(UTC), "compact", 0, snapshot.placed_labels)
    return commit_batch(snapshot, changes, entry, fold_batches=Partition("batches", None) in due)


def _fold(snapshot: Snapshot, partition: Partition, corrected: pa.Array) -> Change:
    root = Path(snapshot.root)
    files = _by_partition(snapshot, partition.table)[partition]
    rows = read_table(attrs.evolve(snapshot, files={partition.table: tuple(files)}), partition.table)
    if partition.table in _NEVER_THINNED:
        kept = rows
    else:
        kept = rows.filter(pc.invert(pc.is_in(rows["record_id"], value_set=corrected)))
    thinned = kept.num_rows < rows.num_rows
    return Change(write_files(root, partition.table, kept, changes_data=thinned), tuple(files))


def delete_unneeded(root: Path, table: str, version: int, kept_hours: int) -> list[Path]:
    """Delete the table's data files that were taken out, or left by a crash, more than kept_hours ago.

    version is the one the head names; its files stay.
    The Delta library says which; it is only asked, since its own deleting would add entries to the log.
    """
    unneeded = open_table(root, table, version).vacuum(
        retention_hours=kept_hours, dry_run=True, enforce_retention_duration=False, full=True, keep_versions=[version]
    )
    gone = [hold_inside(root, root / table / path) for path in unneeded]
    for path in gone:
        path.unlink(missing_ok=True)
    return gone
