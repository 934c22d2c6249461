"""Settles the order of acts whose spans overlap, for the few labels whose plain order is contradictory or has gaps."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator

import duckdb
import pyarrow as pa

from perennia.lifecycle import FIRST_DAY, Happening, place
from perennia.queries.connection import PLACEMENTS, build

_ACTS = (
    "SELECT label, record_id, act, coalesce(on_from, DATE '0001-01-01'), on_to FROM inside.label_acts "
    "WHERE label IN (SELECT unnest(?)) "
    # whatever only a plant in growth can bear takes part as a picking
    "UNION ALL SELECT DISTINCT label, NULL, 'picked', coalesce(on_from, DATE '0001-01-01'), on_to "
    "FROM (SELECT label, on_from, on_to FROM inside.harvest_rows UNION ALL "
    "SELECT label, on_from, on_to FROM inside.flowering_rows) WHERE label IN (SELECT unnest(?)) ORDER BY ALL"
)


def settle(connection: duckdb.DuckDBPyConnection, labels: Collection[str], built: set[str]) -> None:
    """Fill inside.placements for these labels; must come before any relation that needs it.

    A label for which no legal order exists keeps its plain order, and checking names what contradicts.
    """
    if not labels:
        return
    build(connection, ["label_acts"], built)
    wanted = sorted(labels)
    acts: dict[str, list[Happening]] = defaultdict(list)
    for label, record_id, act, on_from, on_to in connection.execute(_ACTS, [wanted, wanted]).fetchall():
        acts[label].append(Happening((record_id or b""), act, on_from or FIRST_DAY, on_to))
    rows = [row for label, happenings in acts.items() for row in _rows(label, happenings)]
    connection.register("arriving", pa.Table.from_pylist(rows, schema=PLACEMENTS))
    connection.execute("INSERT INTO inside.placements SELECT * FROM arriving")
    connection.unregister("arriving")


def followed(connection: duckdb.DuckDBPyConnection, labels: Collection[str]) -> list[str]:
    """Those of the labels whose whole lives a connection that sees some labels only sees: those touched, and their
    mothers."""
    rows = connection.execute("SELECT label FROM inside.touched WHERE label IN (SELECT unnest(?))", [sorted(labels)])
    return [label for (label,) in rows.fetchall()]


def _rows(label: str, happenings: list[Happening]) -> Iterator[dict[str, object]]:
    # pickings help to place a half remembered death; where one contradicts every order, the acts are ordered without
    lived = [happening for happening in happenings if happening.key]
    for placement in place(happenings) or place(lived) or ():
        if placement.key:
            yield {
                "label": label, "record_id": placement.key, "act": placement.act,
                "placed_on": placement.on, "placed_order": placement.order,
            }  # fmt: skip
