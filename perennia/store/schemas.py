"""The ten tables of a garden: their columns, and how records become rows and come back.

A record that names several plants in its field ``labels`` is stored one row a label: column ``label`` in
place of ``labels``, and ``shared_by``, the number of labels. Amounts stay whole in every such row; the
views divide. All rows of one record carry the same record_id.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.dataset as ds

from perennia.errors import RecordError
from perennia.records.base import Record, event_of
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.records.fields import FieldRule, Kind
from perennia.records.spans import Span, to_span
from perennia.store.identity import POSITION, content_hash, uuid7

__all__ = [
    "PARTITIONED", "POSITION", "SORTED_BY", "TABLES", "Candidates", "content_hash", "filled_columns",
    "from_rows", "in_order", "rows_of_columns", "to_tables", "uuid7",
    "with_missing", "years_of",
]  # fmt: skip

PARTITIONED: frozenset[str] = frozenset({"life", "harvest", "flowering", "care", "weather", "seed"})
_TEXTS = pa.list_(pa.string())
_INSTANT = pa.timestamp("us", tz="UTC")
_TYPES: dict[Kind, pa.DataType] = {
    "text": pa.string(), "label": pa.string(), "labels": _TEXTS, "number": pa.float64(), "whole": pa.int64(),
    "flag": pa.bool_(), "day": pa.date32(),
}  # fmt: skip
_SYSTEM: tuple[tuple[str, pa.DataType], ...] = (
    ("record_id", pa.binary()),
    ("content", pa.binary()),
    ("event", pa.string()),
    ("batch", pa.int64()),
    ("recorded_at", _INSTANT),
)
_CORRECTIONS = pa.schema(
    [
        ("record_id", pa.binary()),
        ("corrected_at", _INSTANT),
        ("batch", pa.int64()),
        ("table_name", pa.string()),
        ("reason", pa.string()),
        ("replacement_id", pa.binary()),
        ("old", pa.string()),
        ("old_recorded_at", _INSTANT),
    ]
)
_BATCHES = pa.schema(
    [
        ("batch", pa.int64()),
        ("recorded_at", _INSTANT),
        ("kind", pa.string()),
        ("records", pa.int64()),
        ("versions", pa.string()),
        ("placed_labels", _TEXTS),
    ]
)


def _columns_of(name: str, rule: FieldRule) -> dict[str, pa.DataType]:
    """The columns one field is kept in."""
    if name == "labels":
        return {"label": pa.string(), "shared_by": pa.int64()}
    if name == "on":
        return {"on_from": pa.date32(), "on_to": pa.date32()}
    if rule.kind == "span":
        return {f"{name}_from": pa.date32(), f"{name}_to": pa.date32()}
    return {name: _TYPES[rule.kind]}


def _schema_of(table: str) -> pa.Schema:
    columns: dict[str, pa.DataType] = {}
    if table in PARTITIONED:
        columns |= {"on_from": pa.date32(), "on_to": pa.date32()}
    last: dict[str, pa.DataType] = {}
    for cls in RECORDS.values():
        if cls.table != table:
            continue
        for name, rule in rules_of(cls).items():
            into = last if name in ("minutes", "cost", "note") else columns
            for column, kind in _columns_of(name, rule).items():
                if into.setdefault(column, kind) != kind:
                    raise TypeError(f"{table}.{column} is {into[column]} in one event and {kind} in {event_of(cls)}")
    year = [("year", pa.int32())] if table in PARTITIONED else []
    return pa.schema([*_SYSTEM, *columns.items(), *last.items(), *year])


TABLES: dict[str, pa.Schema] = {
    **{table: _schema_of(table) for table in dict.fromkeys(cls.table for cls in RECORDS.values())},
    "corrections": _CORRECTIONS,
    "batches": _BATCHES,
}
Candidates = pa.Table | ds.Dataset
"""Candidate rows of one table, in memory or in files: all columns of the schema, then batch_position.

In files texts are numbers of those that differ, and ids have no other length than theirs.
"""
PLACES = {"sites": "site", "beds": "bed"}
"""Tables of places, which have names and no days, by what one row is."""
SORTED_BY: dict[str, tuple[str, ...]] = {
    table: tuple(column for column in ("label", "name", "on_from", "batch", "record_id") if column in schema.names)
    for table, schema in TABLES.items()
}


def to_tables(records: Sequence[Record]) -> dict[str, pa.Table]:
    """Candidate rows for each table the records go to.

    Each table has all columns of its schema, then ``batch_position`` (int64: the record's place in the sequence).
    record_id, content, batch and recorded_at are null. Rows are in the order of the records, share rows in
    the order of the labels. Raises RecordError for a value that fits no column (a number beyond 64 bits).
    """
    groups: dict[type[Record], list[tuple[int, Record]]] = defaultdict(list)
    for position, record in enumerate(records):
        groups[type(record)].append((position, record))
    parts: dict[str, list[pa.Table]] = defaultdict(list)
    for cls, members in groups.items():
        parts[cls.table].append(_rows_of(cls, [place for place, _ in members], [record for _, record in members]))
    return {table: in_order(tables) for table, tables in parts.items()}


def in_order(tables: Sequence[pa.Table]) -> pa.Table:
    """Candidate tables of several classes as one, in the order of the batch."""
    if len(tables) == 1:
        return tables[0]
    table = pa.concat_tables(tables)
    return table.take(pc.sort_indices(table[POSITION])).combine_chunks()


def years_of(days: pa.Array | pa.ChunkedArray) -> pa.Array | pa.ChunkedArray:
    """The calendar year of each day."""
    if days.null_count or not len(days):
        return pc.year(days).cast(pa.int32())
    reach = pc.min_max(days)
    first, last = (pc.year(reach[end]).cast(pa.int32()) for end in ("min", "max"))
    return pa.repeat(first, len(days)) if first == last else pc.year(days).cast(pa.int32())


def filled_columns(rows: pa.Table) -> pa.Table:
    """The rows without the columns that are missing in all of them: most are, and would be moved about for nothing."""
    return rows.select([name for name in rows.column_names if rows[name].null_count < rows.num_rows])


def _rows_of(cls: type[Record], positions: list[int], records: list[Record]) -> pa.Table:
    """Rows of records of one class, with the batch_position column."""
    rules = rules_of(cls)
    columns: dict[str, pa.Array] = {}
    for name, rule in rules.items():
        if name != "labels":
            columns |= _arrays(cls, name, rule, [getattr(record, name) for record in records])
    columns |= _days_of(cls, rules, records)
    labels = None
    if "labels" in rules:
        labels = pa.array([record.labels for record in records], _TEXTS)  # type: ignore[attr-defined]
    return rows_of_columns(cls, pa.array(positions, pa.int64()), columns, labels)


def rows_of_columns(
    cls: type[Record],
    positions: pa.Array,
    columns: dict[str, pa.Array],
    labels: pa.Array | None,
) -> pa.Table:
    """Candidate rows of one class from its columns as they are stored, one value a record.

    labels: where the class has the field, a list of names a record, missing where it names none.

    Columns left out are missing in every row.
    """
    columns = {**columns, "event": pa.repeat(pa.scalar(event_of(cls)), len(positions)), POSITION: positions}
    if labels is not None:
        columns = _one_row_a_label(columns, labels)
    elif "label" in columns and "shared_by" in TABLES[cls.table].names:
        columns["shared_by"] = pa.repeat(pa.scalar(1, pa.int64()), len(positions))
    if cls.table in PARTITIONED:
        columns["year"] = years_of(columns["on_to"])
    rows = len(columns[POSITION])
    return with_missing(columns, TABLES[cls.table].append(pa.field(POSITION, pa.int64())), rows)


def with_missing(columns: Mapping[str, pa.Array], schema: pa.Schema, rows: int) -> pa.Table:
    """A table of a schema from some of its columns; the others are missing in every row, those of a type one array."""
    lacking = {field.type for field in schema if field.name not in columns}
    nothing = {kind: pa.nulls(rows, kind) for kind in lacking}
    return pa.table(
        [columns[field.name] if field.name in columns else nothing[field.type] for field in schema], schema=schema
    )


def _arrays(cls: type[Record], name: str, rule: FieldRule, values: list[Any]) -> dict[str, pa.Array]:
    try:
        if name == "on" and rule.kind == "day":
            days = pa.array(values, pa.date32())
            return {"on_from": days, "on_to": days}
        if rule.kind == "span":
            starts = [None if span is None else span.start for span in values]
            ends = [None if span is None else span.end for span in values]
            return {f"{name}_from": pa.array(starts, pa.date32()), f"{name}_to": pa.array(ends, pa.date32())}
        return {name: pa.array(values, _TYPES[rule.kind])}
    except (pa.ArrowException, OverflowError, UnicodeError) as error:
        raise RecordError(
            f"{cls.__name__}, {name}: a value cannot be kept ({error}); it is too large or garbled"
        ) from error


def _days_of(cls: type[Record], rules: dict[str, FieldRule], records: list[Record]) -> dict[str, pa.Array]:
    """on_from and on_to of a dated record without an ``on``: from the first to the last of its days."""
    if cls.table not in PARTITIONED or "on" in rules:
        return {}
    names = [name for name, rule in rules.items() if rule.kind == "day"]
    days: list[list[date]] = [
        [day for name in names if (day := getattr(record, name)) is not None] for record in records
    ]
    return {
        "on_from": pa.array([min(known) for known in days], pa.date32()),
        "on_to": pa.array([max(known) for known in days], pa.date32()),
    }


def _one_row_a_label(columns: dict[str, pa.Array], labels: pa.Array) -> dict[str, pa.Array]:
    """Repeat each record for each of its labels; a record without labels keeps its one row."""
    if not labels.null_count and pc.all(pc.equal(pc.list_value_length(labels), 1)).as_py():
        return {**columns, "label": pc.list_flatten(labels),
                "shared_by": pa.repeat(pa.scalar(1, pa.int64()), len(labels))}  # fmt: skip
    listed = pc.fill_null(labels, pa.scalar([None], _TEXTS))
    record = pc.list_parent_indices(listed)
    label = pc.list_flatten(listed)
    shared_by = pc.if_else(pc.is_valid(label), pc.list_value_length(listed).cast(pa.int64()).take(record), None)
    if len(record) != len(labels):
        columns = {name: values.take(record) for name, values in columns.items()}
    return {**columns, "label": label, "shared_by": shared_by}


def from_rows(rows: Sequence[dict[str, Any]]) -> Record:
    """The record that all rows of one record_id stand for.

    Days may be dates or ISO text. Raises RecordError when the rows make no record.
    """
    first = rows[0]
    cls = class_of(first["event"])
    fields: dict[str, Any] = {}
    for name, rule in rules_of(cls).items():
        if name == "labels":
            names = tuple(row["label"] for row in rows)
            fields[name] = None if names[0] is None else names
        elif name == "on" and rule.kind == "day":
            fields[name] = first["on_to"]
        elif rule.kind == "span":
            fields[name] = _span_of(first[f"{name}_from"], first[f"{name}_to"])
        else:
            value = first[name]
            fields[name] = tuple(value) if rule.kind == "labels" and value is not None else value
    return cls(**fields)


def _span_of(start: date | str | None, end: date | str | None) -> Span | None:
    return None if end is None else to_span(f"{start or '..'}/{end}")
