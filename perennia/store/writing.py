"""How a garden's folder is made and written to: one writer at a time, a batch at a time."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import attrs
import filelock
import pyarrow as pa
from deltalake.exceptions import DeltaError
from deltalake.transaction import AddAction

from perennia.errors import StoreError
from perennia.store.access import usable_name
from perennia.store.batches import Entry, commit_batch, entry_row, write_files
from perennia.store.compaction import compact
from perennia.store.durable import fsync_folder, write_text
from perennia.store.healing import heal
from perennia.store.log import Change, commit_change, create_table
from perennia.store.schemas import TABLES, Candidates, years_of
from perennia.store.snapshot import FORMAT, GARDEN_FILE, Snapshot, garden_facts, read_snapshot
from perennia.store.staging import in_memory
from perennia.store.threads import two_at_a_time

_LOCK_FILE = ".lock"
_NEVER_NULL = ("record_id", "content", "year")


def create_store(root: str | Path, name: str | None = None) -> Snapshot:
    """Make an empty garden in a new or empty folder and give it as it stands.

    Raises StoreError when the folder holds a garden or anything else.
    """
    folder = usable_name(Path(root)).resolve()
    if (folder / GARDEN_FILE).exists():
        raise StoreError(f"{folder} already holds a garden; open it, or choose another folder")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StoreError(f"{folder} is not empty; choose a new or empty folder for the garden")
    folder.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        create_table(folder, table)
    entry = Entry(0, datetime.now(UTC), "create", 0, ())
    first = write_files(folder, "batches", entry_row(entry, dict.fromkeys(TABLES, 0)))
    commit_change(folder, "batches", 0, Change(first))
    # last, so that a folder without it was never a garden
    facts: dict[str, object] = {"format": FORMAT} if name is None else {"format": FORMAT, "name": name}
    write_text(folder / GARDEN_FILE, json.dumps(facts, indent=2, ensure_ascii=False) + "\n")
    fsync_folder(folder.parent)
    return read_snapshot(folder)


class Writer:
    """The one writer of a garden, as long as it holds the lock. snapshot is the garden as it stands."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.snapshot = heal(root)
        self._failed = False

    def commit(
        self,
        tables: Mapping[str, Candidates],
        kind: str,
        records: int,
        placed_labels: Sequence[str],
        recorded_at: datetime,
    ) -> Snapshot:
        """Store rows as one batch, all or nothing, on the disk when this returns.

        tables has rows with all columns of their schema; others are left out, and batch, recorded_at and
        year are filled in here. Partitions with many small files are compacted first, as a batch of their
        own, so an error here always means that nothing of this batch was stored.
        """
        return self.commit_if(tables, kind, records, lambda: placed_labels, recorded_at)

    def commit_if(
        self,
        tables: Mapping[str, Candidates],
        kind: str,
        records: int,
        judged: Callable[[], Sequence[str]],
        recorded_at: datetime,
    ) -> Snapshot:
        """commit, unless judged raises; it gives the placed labels, and nothing is stored before it has returned.

        Rows in files are written to their places meanwhile, which no version of a table names before that.
        """
        large = any(not isinstance(rows, pa.Table) for rows in tables.values())
        placed_labels = () if large else tuple(judged())
        if self._failed:
            self.snapshot = heal(self.root)
        self._failed = True
        try:
            compact(self)
            entry = Entry(self.snapshot.batch + 1, recorded_at, kind, records, placed_labels)
            if large:
                adds, placed_labels = self._written_while(judged, tables, entry)
                entry = attrs.evolve(entry, placed_labels=placed_labels)
            else:
                adds = {table: self._write(table, rows, entry) for table, rows in tables.items()}
            changes = {table: Change(added) for table, added in adds.items() if added}
            self.snapshot = commit_batch(self.snapshot, changes, entry)
        except (OSError, pa.ArrowException, DeltaError) as error:
            raise StoreError(
                f"the batch could not be written to {self.root} ({error}); what the garden held before is untouched"
            ) from error
        self._failed = False
        return self.snapshot

    def _written_while(
        self, judged: Callable[[], Sequence[str]], tables: Mapping[str, Candidates], entry: Entry
    ) -> tuple[dict[str, tuple[AddAction, ...]], tuple[str, ...]]:
        """The files into which rows were written while judged was at work, and what it gave; no file is left of rows
        that it refused."""
        adds: dict[str, list[AddAction]] = {table: [] for table in tables}
        placed_labels: list[str] = []

        def write(table: str, rows: pa.Table) -> None:
            # two at a time: a list keeps what each adds
            adds[table].extend(self._write(table, rows, entry))

        def jobs() -> Iterator[Callable[[], None]]:
            yield lambda: placed_labels.extend(judged())
            for table, candidates in tables.items():
                for rows in in_memory(candidates):
                    yield partial(write, table, rows)

        try:
            for _ in two_at_a_time(lambda job: job(), jobs()):
                pass
        except BaseException:
            for table, added in adds.items():
                for add in added:
                    (self.root / table / add.path).unlink(missing_ok=True)
            raise
        return {table: tuple(added) for table, added in adds.items()}, tuple(placed_labels)

    def _write(self, table: str, rows: Candidates, entry: Entry) -> tuple[AddAction, ...]:
        return tuple(
            add for part in in_memory(rows) for add in write_files(self.root, table, _filled(table, part, entry))
        )


@contextmanager
def writer(root: str | Path, timeout: float = 60.0) -> Iterator[Writer]:
    """Hold the garden's lock, heal what a crash left, and give its Writer.

    Raises StoreError when another process holds the lock for more than timeout seconds.
    """
    garden_facts(root)
    folder = Path(root).resolve()
    lock = filelock.FileLock(folder / _LOCK_FILE)
    try:
        lock.acquire(timeout=timeout)
    except filelock.Timeout as error:
        raise StoreError(
            f"another process has been writing to the garden in {folder} for {timeout:g} seconds; "
            "wait until it is done, or end it, and try again"
        ) from error
    except OSError as error:
        raise StoreError(f"the garden in {folder} cannot be written to ({error}); check its permissions") from error
    try:
        yield Writer(folder)
    finally:
        lock.release()


def _filled(table: str, rows: pa.Table, entry: Entry) -> pa.Table:
    """The rows with what only the batch knows: its number, its instant, and the year of the partition."""
    schema = TABLES[table]
    known = {
        "batch": lambda: pa.repeat(pa.scalar(entry.batch, pa.int64()), rows.num_rows),
        "recorded_at": lambda: pa.repeat(pa.scalar(entry.recorded_at, schema.field("recorded_at").type), rows.num_rows),
        "year": lambda: years_of(rows["on_to"]),
    }
    lacking = [name for name in schema.names if name not in known and name not in rows.column_names]
    if lacking:
        raise StoreError(f"rows for {table} lack the columns {', '.join(lacking)}; nothing was stored")
    filled = pa.table({name: known[name]() if name in known else rows[name] for name in schema.names})
    empty = [name for name in _NEVER_NULL if name in schema.names and filled[name].null_count]
    if empty:
        raise StoreError(f"rows for {table} have nothing in {', '.join(empty)}; nothing was stored")
    return filled
