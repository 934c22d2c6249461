"""A book held against what was stored of it before: rows known in other words, rows outdated, rows gone from it.

What is gone from a book is told with its id, unless a row in its place shows that it was edited (``edited_keys``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import Doubt
from perennia.checking.words import days
from perennia.garden import Garden
from perennia.intake.identity import book_ids
from perennia.store.identity import NOT_CONTENT
from perennia.store.old_rows import from_json
from perennia.store.schemas import POSITION, TABLES, content_hash

LARGEST = 300_000
"""Larger books, and tables, are not looked back on."""
_NEAR = timedelta(days=31)


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


def put_in_place(
    garden: Garden, book: str, tables: Mapping[str, pa.Table], stored: Mapping[str, pa.Table]
) -> tuple[set[int], dict[str, set[bytes]]]:
    """The positions of new rows that say, day and label and all, what a row of the book was corrected to; and, of each
    table, the ids of what rows of the book were corrected to that nothing in the book says any more.

    stored: all rows that count of each of the tables.
    """
    corrections = garden.corrections()
    known: set[int] = set()
    unsaid: dict[str, set[bytes]] = {}
    for name, rows in tables.items():
        own = corrections[(corrections["table"] == name) & corrections["replacement_id"].notna()]
        if own.empty:
            continue
        read = set(rows["record_id"].to_pylist())
        olds = pa.concat_tables([from_json(name, old) for old in own["old"]])
        of_book = set(_of_book(book, name, olds)["record_id"].to_pylist()) - read
        became = dict(zip(map(bytes.fromhex, own["record_id"]), map(bytes.fromhex, own["replacement_id"]), strict=True))
        standing = {_last(old, became) for old in became if old in of_book}
        waiting = defaultdict(list)
        for record, _, content in _records(stored[name]):
            if record in standing:
                waiting[content].append(record)
        for _, row, content in _records(fresh_rows(garden, name, rows, stored[name])):
            if waiting[content]:
                waiting[content].pop()
                known.add(row[POSITION])
        unsaid[name] = {record for records in waiting.values() for record in records}
    return known, unsaid


def _last(record: bytes, became: Mapping[bytes, bytes]) -> bytes:
    """What stands for a record that was corrected, and the correction perhaps again."""
    while record in became:
        record = became[record]
    return record


def outdated(garden: Garden, tables: Mapping[str, pa.Table]) -> Iterator[Doubt]:
    """Rows that say what was stored of them and corrected since: the correction counts."""
    for name, rows in tables.items():
        # only of what was corrected more than one thing was said
        became = {record: fate for record, fate in garden.became(name, pc.unique(rows["record_id"])).items()
                  if fate.now is not None and len(fate.contents) > 1}  # fmt: skip
        told = rows.filter(pc.is_in(rows["record_id"], value_set=pa.array(list(became), pa.binary())))
        for record, row, content in _records(told):
            fate = became[record]
            if content in fate.contents and content != fate.now:
                yield _doubt(row, "outdated", fate.standing or record,
                             "was corrected since, and the book says it as before; the correction counts")  # fmt: skip


def absent_rows(
    book: str, tables: Mapping[str, pa.Table], stored: Mapping[str, pa.Table], unsaid: Mapping[str, Collection[bytes]]
) -> dict[str, pa.Table]:
    """Of each table, the stored rows of the book that are not among those read; tables without any are left out.

    stored: all rows that count of each of the tables. unsaid: ids of what rows of the book were corrected to and that
    it does not say, as put_in_place tells.
    """
    found = {}
    for name, rows in tables.items():
        absent = _without(stored[name], set(rows["record_id"].to_pylist()))
        if absent.num_rows:
            own = pc.unique(_of_book(book, name, stored[name])["record_id"]).to_pylist()
            of_book = pa.array(sorted({*own, *unsaid.get(name, ())}), pa.binary())
            absent = absent.filter(pc.is_in(absent["record_id"], value_set=of_book))
        if absent.num_rows:
            found[name] = absent
    return found


def gone_rows(
    tables: Mapping[str, pa.Table], fresh: Mapping[str, pa.Table], absent: Mapping[str, pa.Table], told: Collection[str]
) -> Iterator[Doubt]:
    """Stored rows of the book that are no longer in it, near the days, of the years and of the labels of the rows read.

    fresh: the rows of which nothing is stored; absent: see absent_rows. told: ids of records that are told otherwise.
    """
    first_year, last_year = _years(tables.values())
    for name, gone in absent.items():
        bounds, like = _bounds(tables[name]), {but_label(row) for _, row, _ in _records(fresh[name])}
        for record, row, _ in _records(_without(gone, set(map(bytes.fromhex, told)))):
            first, last, labels = bounds.get(row["event"], (date.max, date.min, frozenset()))
            near = _moved(first, -_NEAR) <= row["on_to"] <= _moved(last, _NEAR)
            # a book kept a file a year has the last days of December in another file than those of January
            of_years = first_year <= row["on_to"].year <= last_year
            if (near and of_years and row.get("label") in labels) or but_label(row) in like:
                way = f"perennia correct GARDEN {record.hex()} --take-back"
                what = f"was stored from this book and is no longer in it; if it is wrong, take it back ({way})"
                yield _doubt(row, "gone", record, what)


def _years(tables: Iterable[pa.Table]) -> tuple[int, int]:
    """First and last calendar year of all that was read."""
    ends = [pc.min_max(rows["on_to"]).as_py() for rows in tables if rows.num_rows]
    years = [day.year for own in ends for day in own.values() if day is not None]
    return min(years, default=1), max(years, default=9999)


def _without(rows: pa.Table, ids: Collection[bytes]) -> pa.Table:
    return rows.filter(pc.invert(pc.is_in(rows["record_id"], value_set=pa.array(sorted(ids), pa.binary()))))


def _bounds(rows: pa.Table) -> dict[str, tuple[date, date, frozenset[str | None]]]:
    """First and last day, and the labels, of the rows of each event."""
    grouped = rows.group_by("event").aggregate([("on_to", "min"), ("on_to", "max"), ("label", "distinct")])
    return {
        row["event"]: (row["on_to_min"], row["on_to_max"], frozenset(row["label_distinct"]))
        for row in grouped.to_pylist() if row["on_to_min"] is not None
    }  # fmt: skip


def _moved(day: date, by: timedelta) -> date:
    try:
        return day + by
    except OverflowError:
        return day


def but_label(row: Mapping[str, Any], *more: str) -> tuple[Any, ...]:
    """What a row says but for its label, and for more of its columns."""
    return tuple(tuple(value) if isinstance(value, list) else value for name, value in sorted(row.items())
                 if name not in NOT_CONTENT and name not in more)  # fmt: skip


def _doubt(row: Mapping[str, Any], kind: str, record: bytes, what: str) -> Doubt:
    of = row.get("label") or row.get("bed") or row.get("lot") or ""
    said = f"{of}: {row['event'].replace('_', ' ')} {days(row['on_from'], row['on_to'])} {what}"
    return Doubt(str(of), kind, row["event"], row["on_from"], row["on_to"], record.hex(), said)


def fresh_rows(garden: Garden, name: str, rows: pa.Table, stored: pa.Table) -> pa.Table:
    """The rows under ids of which the garden knows nothing, in the order of the book."""
    unknown = pc.invert(pc.is_in(rows["record_id"], value_set=stored["record_id"].combine_chunks()))
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


def _records(rows: pa.Table) -> Iterator[tuple[bytes, dict[str, Any], bytes]]:
    """Id, first row and content hash of each record."""
    seen: set[bytes] = set()
    for row, content in zip(rows.to_pylist(), content_hash(rows).to_pylist() if rows.num_rows else (), strict=True):
        if row["record_id"] not in seen:
            seen.add(row["record_id"])
            yield row["record_id"], row, content
