"""Batches checked without a garden: candidate rows held against Parquet files of what is already recorded."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from pathlib import Path

import pyarrow as pa

from perennia.checking import Checked, check
from perennia.crops import CropProfile
from perennia.errors import Problem, RefusedError
from perennia.records import Bed, Record, Site
from perennia.store.batches import write_files
from perennia.store.identify import identified
from perennia.store.schemas import to_tables

TODAY = date(2025, 6, 1)
BEAN = "Phaseolus coccineus"
PLACES = (Site("home", latitude=51.5), Bed("b", "home", area_m2=6))
Files = Mapping[str, Sequence[str]]


def candidates(*records: Record) -> dict[str, pa.Table]:
    """Rows of a batch as the garden hands them to the check, ids and hashes filled in."""
    return identified(to_tables(records))


def stored(folder: Path, *records: Record) -> dict[str, list[str]]:
    """The data files of records recorded before."""
    files: dict[str, list[str]] = {}
    for name, table in candidates(*records).items():
        (folder / name).mkdir(exist_ok=True)
        files[name] = [str(folder / name / add.path) for add in write_files(folder, name, table)]
    return files


def checked(
    *records: Record,
    files: Files | None = None,
    placed: Collection[str] = (),
    today: date = TODAY,
    profiles: Mapping[str, CropProfile] | None = None,
) -> Checked:
    """The verdict on a batch."""
    return check(candidates(*records), files or {}, placed_labels=placed, today=today, profiles=profiles)


def refusals(tables: Mapping[str, pa.Table], files: Files | None = None) -> tuple[Problem, ...]:
    """What is wrong with candidate rows; nothing when they may be stored."""
    try:
        check(tables, files or {}, placed_labels=(), today=TODAY)
    except RefusedError as error:
        return error.problems
    return ()


def having(table: pa.Table, column: str, values: Sequence[object]) -> pa.Table:
    """The table with other values in one column."""
    return table.set_column(
        table.column_names.index(column), column, pa.array(values, table.schema.field(column).type)
    )

