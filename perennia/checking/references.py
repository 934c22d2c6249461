"""Beds and sites that a record names must be known to the garden, or begin in the same batch; and stay known."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import duckdb

from perennia.checking.words import hints, where
from perennia.errors import Problem
from perennia.queries.connection import RECORD_TABLES
from perennia.store.schemas import POSITION, TABLES


def reference_problems(tables: Collection[str], connection: duckdb.DuckDBPyConnection) -> Iterator[Problem]:
    """Every bed or site named in the candidate rows that nobody has recorded; the batch is seen as stored."""
    for kind, table_name, rule in (("bed", "beds", "B2"), ("site", "sites", "B3")):
        for table in tables:
            if kind in TABLES[table].names:
                yield from _unknown(table, kind, table_name, rule, connection)
        yield from _still_named(kind, table_name, rule, connection)
        if table_name in tables:
            yield from _taken_names(kind, table_name, connection)


def _taken_names(kind: str, table_name: str, connection: duckdb.DuckDBPyConnection) -> Iterator[Problem]:
    """Candidate beds or sites of a name that another one has."""
    rows = connection.sql(
        f"SELECT * FROM inside.{table_name}_added WHERE name IN ("
        f"SELECT name FROM inside.{table_name}_rows GROUP BY name HAVING count(DISTINCT record_id) > 1)"
    ).to_arrow_table()
    for row in rows.to_pylist():
        yield Problem(
            row[POSITION], where(row), "name", f"another {kind} is called {row['name']!r}",
            "choose another name, or correct that one instead", "B8",
        )  # fmt: skip


def _unknown(
    table: str, kind: str, table_name: str, rule: str, connection: duckdb.DuckDBPyConnection
) -> Iterator[Problem]:
    rows = connection.sql(
        f'SELECT * FROM inside.{table}_added WHERE "{kind}" IS NOT NULL '
        f'AND "{kind}" NOT IN (SELECT name FROM inside.{table_name}_rows)'
    ).to_arrow_table().to_pylist()  # fmt: skip
    if not rows:
        return
    known = {name for (name,) in connection.execute(f"SELECT name FROM inside.{table_name}_rows").fetchall()}
    near = hints((row[kind] for row in rows), known)
    seen: set[int] = set()
    for row in rows:
        if row[POSITION] not in seen:
            seen.add(row[POSITION])
            yield Problem(
                row[POSITION], where(row), kind, f"no {kind} called {row[kind]!r} is known",
                f"record it first, or correct the name{near[row[kind]]}", rule,
            )  # fmt: skip


def _still_named(kind: str, table_name: str, rule: str, connection: duckdb.DuckDBPyConnection) -> Iterator[Problem]:
    """Beds or sites taken back, and not put in place anew, that stored records name."""
    gone = [name for (name,) in connection.execute(
        f"SELECT name FROM inside.{table_name}_stored WHERE record_id IN (SELECT record_id FROM inside.withdrawn) "
        f"AND name NOT IN (SELECT name FROM inside.{table_name}_rows)"
    ).fetchall()]  # fmt: skip
    for name in gone:
        naming = sum(_records_naming(kind, name, table, connection) for table in RECORD_TABLES)
        if naming:
            yield Problem(
                -1, "the garden without the corrected record", kind,
                f"{naming} {'record names' if naming == 1 else 'records name'} the {kind} {name!r}",
                f"correct them first, or put another {kind} {name!r} in its place", rule,
            )  # fmt: skip


def _records_naming(kind: str, name: str, table: str, connection: duckdb.DuckDBPyConnection) -> int:
    if kind not in TABLES[table].names:
        return 0
    # all that is stored, not only what bears on the labels of the batch
    ((count,),) = connection.execute(
        f'SELECT count(DISTINCT record_id) FROM inside.{table}_stored WHERE "{kind}" = ? '
        "AND record_id NOT IN (SELECT record_id FROM inside.corrected)",
        [name],
    ).fetchall()
    return int(count)
