"""Candidate rows of a batch until they count: in memory, or in files that no version of a table names.

The files lie in the garden's folder, on the disk that has room for them, and are gone when the batch is stored or
refused.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.dataset as ds
import pyarrow.fs as fs

from perennia.store.digests import BYTES
from perennia.store.schemas import PARTITIONED, POSITION, TABLES, Candidates, filled_columns, years_of

FOLDER = ".staged"
# rows sorted and written as one file: so many fit in memory
_ROWS_A_FILE = 2_000_000
_YEARS = ds.partitioning(pa.schema([("year", pa.int32())]), flavor="hive")


class Staged:
    """The candidate rows of a batch: in memory while they came in one part, in files once there are several."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._first: Mapping[str, pa.Table] | None = None
        self._parts = 0

    def add(self, tables: Mapping[str, pa.Table]) -> None:
        """Take in one more part: rows with all columns of their schema, then batch_position."""
        if not any(table.num_rows for table in tables.values()):
            return
        self._parts += 1
        if self._parts == 1:
            self._first = tables
            return
        if self._first is not None:
            self._write(self._first, 1)
            self._first = None
        self._write(tables, self._parts)

    def candidates(self) -> dict[str, Candidates]:
        """All rows taken in so far, by table."""
        if self._parts < 2:
            return {name: table for name, table in (self._first or {}).items() if table.num_rows}
        return {folder.name: _dataset(folder) for folder in sorted(self._folder.iterdir())}

    def _write(self, tables: Mapping[str, pa.Table], part: int) -> None:
        for name, table in tables.items():
            if name not in PARTITIONED:
                _write_file(self._folder / name / f"{part}.arrow", table)
                continue
            for year, rows in _by_year(filled_columns(table.drop_columns(["year"])), years_of(table["on_to"])):
                folder = self._folder / name / f"year={'__HIVE_DEFAULT_PARTITION__' if year is None else year}"
                _write_file(folder / f"{part}.arrow", rows)


def _by_year(rows: pa.Table, years: pa.ChunkedArray) -> Iterator[tuple[int | None, pa.Table]]:
    different = pc.unique(years).to_pylist()
    for year in different:
        same = pc.is_null(years) if year is None else pc.fill_null(pc.equal(years, year), False)
        yield year, rows if len(different) == 1 else rows.filter(same)


def _kept_as(schema: pa.Schema) -> pa.Schema:
    """The columns as they lie in files: a text as the number of it among those that differ, ids and hashes as 16 bytes.

    Both are a third smaller so, and what is asked of each text is asked of each different one.
    """
    kinds = {pa.string(): pa.dictionary(pa.int32(), pa.string()), pa.binary(): pa.binary(BYTES)}
    return pa.schema([pa.field(field.name, kinds.get(field.type, field.type)) for field in schema])


def _dataset(folder: Path) -> ds.Dataset:
    schema = _kept_as(TABLES[folder.name].append(pa.field(POSITION, pa.int64())))
    years = _YEARS if folder.name in PARTITIONED else None
    # rows are looked at where they lie, not copied first
    where = fs.LocalFileSystem(use_mmap=True)
    return ds.dataset(folder, schema=schema, format="ipc", partitioning=years, filesystem=where)


def _write_file(path: Path, table: pa.Table) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    said = filled_columns(table).combine_chunks()
    kept = said.cast(_kept_as(said.schema))
    with pa.ipc.new_file(path, kept.schema) as file:
        file.write_table(kept)


@contextmanager
def staging(root: Path) -> Iterator[Staged]:
    """A place for the candidate rows of one batch. To be held under the garden's lock."""
    folder = root / FOLDER
    if folder.exists():
        # what a killed process left
        shutil.rmtree(folder)
    try:
        yield Staged(folder)
    finally:
        # the batch is stored or refused by now; what cannot be removed is left to the next writer
        shutil.rmtree(folder, ignore_errors=True)


def in_memory(rows: Candidates) -> Iterator[pa.Table]:
    """The rows in tables that fit in memory, each of one year where they are in files and the table has years.

    Their types are those of the candidates.
    """
    if isinstance(rows, pa.Table):
        yield rows
        return
    by_year: dict[int | None, list[ds.Fragment]] = {}
    for fragment in rows.get_fragments():
        by_year.setdefault(ds.get_partition_keys(fragment.partition_expression).get("year"), []).append(fragment)
    for fragments in by_year.values():
        held: list[pa.Table] = []
        for fragment in fragments:
            held.append(fragment.to_table(schema=rows.schema))
            if sum(table.num_rows for table in held) >= _ROWS_A_FILE:
                yield pa.concat_tables(held)
                held = []
        if held:
            yield pa.concat_tables(held)
