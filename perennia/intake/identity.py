"""Ids of rows taken from a book: the same row of the same book always has the same id."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping

import pyarrow as pa
import pyarrow.compute as pc

from perennia.store.schemas import PLACES, POSITION

# what tells rows of one event and day apart before their order among equals does
_KEYS = ("label", "bed", "site", "lot", "truss", "position", "on_from", "on_to")


def book_ids(book: str, tables: Mapping[str, pa.Table]) -> dict[str, pa.Table]:
    """The candidate rows with record_id = hash of (book, event, labels or place, day, ordinal among equals).

    A row that brings an id of its own keeps it. Sites and beds keep their own ids, which come from their names.
    """
    return {name: table if name in PLACES else _with_ids(book, table) for name, table in tables.items()}


def keys_of(table: pa.Table) -> dict[int, str]:
    """What is told apart of each record by its position: event, labels or place, and days, as one text."""
    columns = [table[name].cast(pa.string()) for name in _KEYS if name in table.column_names]
    lines = pc.binary_join_element_wise(
        table["event"], *(pc.fill_null(column, "") for column in columns), "\x1f"
    ).to_pylist()
    said: dict[int, list[str]] = {}
    for position, line in zip(table[POSITION].to_pylist(), lines, strict=True):
        said.setdefault(position, []).append(line)
    # a picking off several labels is one record, whatever the order in which they are named
    return {position: "\x1e".join(sorted(said[position])) for position in sorted(said)}


def _with_ids(book: str, table: pa.Table) -> pa.Table:
    seen: Counter[str] = Counter()
    ids: dict[int, bytes] = {}
    for position, key in keys_of(table).items():
        seen[key] += 1
        text = f"{book}\0{key}\0{seen[key]}"
        ids[position] = hashlib.blake2b(text.encode(), digest_size=16).digest()
    values = pa.array([ids[position] for position in table[POSITION].to_pylist()], pa.binary())
    own = pc.coalesce(table["record_id"], values)
    return table.set_column(table.column_names.index("record_id"), "record_id", own)
