"""Views over records without a garden on disk, made the way the garden makes them; shared by the tests of queries."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Any

import duckdb
import pyarrow as pa

from perennia.checking.histories import unsettled_labels
from perennia.queries import catalogue
from perennia.queries.connection import Rows, build, connect
from perennia.queries.placing import settle
from perennia.records.base import Record
from perennia.store.schemas import POSITION, to_tables


def with_ids(records: Sequence[Record]) -> list[tuple[bytes, Record]]:
    """Records with ids that tell nothing of their order in time."""
    return [(((number * 7919 + 13) % 65521).to_bytes(16, "big"), record) for number, record in enumerate(records)]


def stored_rows(records: Sequence[tuple[bytes, Record]]) -> dict[str, pa.Table]:
    """The rows the records would be stored as."""
    tables = to_tables([record for _, record in records])
    ids = [identity for identity, _ in records]
    return {
        name: table.set_column(
            table.column_names.index("record_id"), "record_id",
            pa.array([ids[place] for place in table[POSITION].to_pylist()], pa.binary()),
        )
        for name, table in tables.items()
    }  # fmt: skip


@contextmanager
def built(
    records: Sequence[tuple[bytes, Record]], wanted: Collection[str] | None = None, until: date | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that sees the records as stored, with the wanted views (all shown ones) and what they need.

    until: nothing later is seen, as Garden.up_to has it."""
    rows = Rows(files={}, added=stored_rows(records), until=until)
    names = list(catalogue.shown()) if wanted is None else wanted
    made: set[str] = set()
    with connect(rows) as connection:
        build(connection, ["label_acts"], made)
        labels = [label for (label,) in connection.execute("SELECT DISTINCT label FROM inside.label_acts").fetchall()]
        unsettled = unsettled_labels(connection, labels, made)
        if not unsettled:
            build(connection, names, made)
            yield connection
            return
    with connect(rows) as connection:
        made = set()
        settle(connection, unsettled, made)
        build(connection, names, made)
        yield connection


def rows_of(connection: duckdb.DuckDBPyConnection, view: str) -> list[dict[str, Any]]:
    """All rows of a view."""
    return connection.sql(f"SELECT * FROM {view}").to_arrow_table().to_pylist()  # type: ignore[no-any-return]
