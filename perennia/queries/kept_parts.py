"""Relations kept by label: files that each hold the rows of a range of labels, and one that says which begins where.

The range of a file has so few rows that who asks of one plant reads little, and that a relation too large to be put in
order at one go is worked out range by range.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from perennia.queries import catalogue
from perennia.queries.answer_files import hold_whole, is_whole, lying, may_lie, put, put_rows, told
from perennia.queries.connection import Rows, build
from perennia.store.durable import ROWS_A_GROUP
from perennia.store.log import hold_inside
from perennia.store.snapshot import Snapshot
from perennia.store.threads import two_at_a_time

# a range costs as much again as its rows to begin with, and a file more time to be held against its name (measured)
_ROWS_A_FILE = 2 * ROWS_A_GROUP
_INDEX = pa.schema([("first_label", pa.string()), ("file", pa.string())])


def kept_parts(rows: Rows, snapshot: Snapshot, name: str, labels: Collection[str]) -> list[Path]:
    """The files of a relation kept by label that hold all its rows of these labels, and those of labels near them; none
    where it is not kept, or no longer holds for these rows of a garden.

    Raises StoreError for a file that cannot be read, or lies outside the garden once links are followed.
    """
    index = lying(snapshot, _index_of(name), told(rows, snapshot)) if may_lie(rows, snapshot) else None
    if index is None:
        return []
    hold_whole(index)
    first_labels, files = _read(index)
    places = sorted({max(bisect_right(first_labels, label) - 1, 0) for label in labels} if files else ())
    paths = [hold_inside(Path(snapshot.root), index.with_name(files[place])) for place in places]
    if not all(path.is_file() for path in paths):
        return []
    for _ in two_at_a_time(hold_whole, paths):
        pass
    return paths


def keep_by_label(
    connection: duckdb.DuckDBPyConnection, query: catalogue.Query, snapshot: Snapshot, tells: str, built: set[str]
) -> None:
    """Put a relation in place, a file a range of labels, and last the one that is looked for first; unless all lie
    there. Raises as what it calls does."""
    index = lying(snapshot, _index_of(query.name), tells)
    if index is not None and _has_all(index):
        return
    build(connection, [query.name, "label_sizes"], built)
    if index is not None:
        index.unlink(missing_ok=True)
    sizes = connection.execute("SELECT label, size FROM inside.label_sizes ORDER BY label").fetchall()
    parts: list[tuple[str, Path]] = []
    try:
        for first, last in _ranges(sizes):
            parts.append((first, put_rows(connection, query, snapshot, tells, (first, last))))
        rows = [{"first_label": first, "file": path.name} for first, path in parts]
        put(snapshot, _index_of(query.name), tells, _INDEX, [pa.Table.from_pylist(rows, schema=_INDEX)])
    except BaseException:
        # without all of them none is found, and what does not fit on a disk would fill it
        for _, path in parts:
            path.unlink(missing_ok=True)
        raise


def _ranges(sizes: Iterable[tuple[str, int]]) -> Iterator[tuple[str, str]]:
    """First and last label of each range, of labels in their order with their sizes."""
    first: str | None = None
    last, inside = "", 0
    for label, size in sizes:
        if first is not None and inside + size > _ROWS_A_FILE:
            yield first, last
            first, inside = None, 0
        first, last, inside = label if first is None else first, label, inside + size
    if first is not None:
        yield first, last


def _has_all(index: Path) -> bool:
    """Whether an index and the files that it names have the bytes that were written."""
    if not is_whole(index):
        return False
    paths = [index.with_name(file) for file in _read(index)[1]]
    return all(path.is_file() and is_whole(path) for path in paths)


def _read(index: Path) -> tuple[list[str], list[str]]:
    first_labels, files = (column.to_pylist() for column in pq.read_table(index, schema=_INDEX).columns)
    return first_labels, files


def _index_of(name: str) -> str:
    return f"{name}_parts"
