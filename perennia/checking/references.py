"""Beds and sites that a batch names must be known to the garden, or begin in the same batch."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import hints, where
from perennia.errors import Problem
from perennia.store.schemas import POSITION


def reference_problems(tables: Mapping[str, pa.Table], connection: duckdb.DuckDBPyConnection) -> Iterator[Problem]:
    """Every bed or site named in the candidate rows that nobody has recorded; the batch is seen as stored."""
    for kind, table_name, rule in (("bed", "beds", "B2"), ("site", "sites", "B3")):
        named = {name: table for name, table in tables.items() if kind in table.column_names}
        if any(table[kind].null_count < table.num_rows for table in named.values()):
            known = {name for (name,) in connection.execute(f"SELECT name FROM inside.{table_name}_rows").fetchall()}
            for table in named.values():
                yield from _unknown(table, kind, known, rule)


def _unknown(table: pa.Table, kind: str, known: Collection[str], rule: str) -> Iterator[Problem]:
    strange = pc.and_(
        pc.is_valid(table[kind]), pc.invert(pc.is_in(table[kind], pa.array(sorted(known), pa.string())))
    )
    rows = table.filter(strange).to_pylist()
    near = hints((row[kind] for row in rows), known)
    seen: set[int] = set()
    for row in rows:
        if row[POSITION] not in seen:
            seen.add(row[POSITION])
            yield Problem(
                row[POSITION], where(row), kind, f"no {kind} called {row[kind]!r} is known",
                f"record it first with {kind.capitalize()}(...), or correct the name{near[row[kind]]}", rule,
            )  # fmt: skip
