"""Rows of a book whose date or label was changed since it was read: under their new id they look like new rows.

A record of the book is gone from it when the book, read again, has rows of its event before and after its day and of
its labels, but not the row itself. A new row that says the same on another day, or of another of the labels, is taken
for the edited one. Where the record was corrected to just what the row says, the row says nothing new.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import attrs
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.garden import Garden
from perennia.intake.identity import book_ids
from perennia.store.old_rows import from_json
from perennia.store.schemas import POSITION, TABLES, content_hash

LARGEST = 300_000
"""Larger books, and tables, are not looked through for edited days and labels."""
_DAYS = ("on_from", "on_to")


@attrs.frozen
class Moved:
    """A row whose day or label was edited: its position and own id, the record it was, and that record's days and
    labels in words; known where it says what that record was corrected to."""

    position: int
    own_id: bytes
    record_id: str
    was: str
    known: bool


def moved(garden: Garden, book: str, tables: Mapping[str, pa.Table]) -> list[Moved]:
    """The rows of a book, all of them under their ids, that are edited ones of rows stored before."""
    found: list[Moved] = []
    for name, rows in tables.items():
        stored = garden.rows(name)
        read = set(rows["record_id"].to_pylist())
        new = _new(garden, name, rows, set(stored["record_id"].to_pylist()))
        if new.num_rows:
            found += _corrected_so(garden, book, name, new, stored, read)
            taken = {move.position for move in found}
            left = new.filter(pc.invert(pc.is_in(new[POSITION], value_set=pa.array(sorted(taken), pa.int64()))))
            found += _edited(_gone(book, name, rows, stored, read), left)
    return found


def small_tables(garden: Garden, parts: Iterator[Mapping[str, pa.Table]]) -> dict[str, pa.Table]:
    """The tables of a book of which something is stored, whole; none when book or tables are too large.

    Days of weather are left out: many say the same, and none is of a plant.
    """
    sizes = {name: size for name, size in garden.sizes().items() if size and "label" in TABLES[name].names}
    held: dict[str, list[pa.Table]] = defaultdict(list)
    count = 0
    if not sizes or max(sizes.values()) > LARGEST:
        return {}
    for tables in parts:
        count += sum(table.num_rows for table in tables.values())
        if count > LARGEST:
            return {}
        for name in tables.keys() & sizes.keys():
            held[name].append(tables[name])
    return {name: pa.concat_tables(several).combine_chunks() for name, several in held.items()}


def _new(garden: Garden, name: str, rows: pa.Table, stored: set[bytes]) -> pa.Table:
    """The rows under ids of which the garden knows nothing, in the order of the book."""
    unknown = pc.invert(pc.is_in(rows["record_id"], value_set=pa.array(sorted(stored), pa.binary())))
    new = rows.filter(unknown)
    became = garden.became(name, pc.unique(new["record_id"])) if new.num_rows else {}
    return new.filter(pc.invert(pc.is_in(new["record_id"], value_set=pa.array(sorted(became), pa.binary()))))


def _of_book(book: str, name: str, rows: pa.Table) -> pa.Table:
    """Those of the stored rows that came from the book: their ids are those it would give them."""
    _, records = np.unique(np.array(rows["record_id"].to_pylist(), dtype=object), return_inverse=True)
    bare = rows.append_column(POSITION, pa.array(records.astype(np.int64)))
    bare = bare.set_column(bare.column_names.index("record_id"), "record_id", pa.nulls(len(rows), pa.binary()))
    own = pc.unique(book_ids(book, {name: bare})[name]["record_id"])
    return rows.filter(pc.is_in(rows["record_id"], value_set=own))


def _gone(book: str, name: str, rows: pa.Table, stored: pa.Table, read: set[bytes]) -> pa.Table:
    """The stored records of the book that are gone from it, though it has rows around them."""
    absent = stored.filter(pc.invert(pc.is_in(stored["record_id"], value_set=pa.array(sorted(read), pa.binary()))))
    if not absent.num_rows:
        return absent
    kept = np.zeros(absent.num_rows, np.bool_)
    for event in pc.unique(absent["event"]).to_pylist():
        same = rows.filter(pc.equal(rows["event"], event))
        if same.num_rows:
            first, last = pc.min(same["on_to"]), pc.max(same["on_to"])
            within = pc.and_(pc.greater_equal(absent["on_to"], first), pc.less_equal(absent["on_to"], last))
            of_labels = pc.is_in(absent["label"], value_set=pc.unique(same["label"]))
            around = pc.and_(pc.and_(within, of_labels), pc.equal(absent["event"], event))
            kept |= pc.fill_null(around, False).to_numpy()
    gone = absent.filter(pa.array(kept))
    ids = pc.unique(_of_book(book, name, stored)["record_id"])
    return gone.filter(pc.is_in(gone["record_id"], value_set=ids))


def _corrected_so(
    garden: Garden, book: str, name: str, new: pa.Table, stored: pa.Table, read: set[bytes]
) -> Iterator[Moved]:
    """New rows that say, day and label and all, what a row of the book was corrected to in the garden."""
    corrections = garden.corrections()
    corrections = corrections[(corrections["table"] == name) & corrections["replacement_id"].notna()]
    if corrections.empty:
        return
    olds = pa.concat_tables([from_json(name, old) for old in corrections["old"]])
    of_book = set(_of_book(book, name, olds)["record_id"].to_pylist()) - read
    standing = {bytes.fromhex(text) for old, text in zip(corrections["record_id"], corrections["replacement_id"],
                                                         strict=True) if bytes.fromhex(old) in of_book}  # fmt: skip
    replaced = stored.filter(pc.is_in(stored["record_id"], value_set=pa.array(sorted(standing), pa.binary())))
    yield from _matched(new, replaced, (), known=True)


def _edited(gone: pa.Table, new: pa.Table) -> Iterator[Moved]:
    """New rows that say what a record gone from the book said, on another day or of other labels."""
    taken: set[int] = set()
    for left_out in (_DAYS, ("label",)):
        free = new.filter(pc.invert(pc.is_in(new[POSITION], value_set=pa.array(sorted(taken), pa.int64()))))
        for move in _matched(free, gone, left_out, known=False):
            taken.add(move.position)
            yield move


def _matched(new: pa.Table, old: pa.Table, left_out: Sequence[str], *, known: bool) -> Iterator[Moved]:
    waiting: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
    for said, records in _said(old, left_out).items():
        waiting[said] += records
    for said, records in _said(new, left_out).items():
        for row, was in zip(records, waiting[said], strict=False):
            yield Moved(row[POSITION], row["record_id"], was["record_id"].hex(), _told(was), known)


def _said(rows: pa.Table, left_out: Sequence[str]) -> dict[bytes, list[dict[str, Any]]]:
    """The first row of each record, by what it says but for some columns."""
    if not rows.num_rows:
        return {}
    bare = rows
    for name in left_out:
        column = bare.column_names.index(name)
        bare = bare.set_column(column, name, pa.nulls(len(bare), bare.schema.field(name).type))
    said: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
    seen: set[bytes] = set()
    for content, row in zip(content_hash(bare).to_pylist(), rows.to_pylist(), strict=True):
        if row["record_id"] not in seen:
            seen.add(row["record_id"])
            said[content].append(row)
    return said


def _told(row: Mapping[str, Any]) -> str:
    first, last = row["on_from"], row["on_to"]
    day = str(last) if first == last else f"{_or_open(first)}/{last}"
    return f"of {row['label']} on {day}" if row.get("label") else f"on {day}"


def _or_open(day: date | None) -> str:
    return ".." if day is None else str(day)
