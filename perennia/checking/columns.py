"""Field rules and record rules, judged column by column on candidate rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, timedelta
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import where
from perennia.errors import Problem
from perennia.records.catalogue import class_of, rules_of
from perennia.records.fields import FieldRule, fault
from perennia.records.spans import Span
from perennia.store.schemas import POSITION, TABLES

_SYSTEM = frozenset({"record_id", "content", "event", "batch", "recorded_at", "year", "shared_by", POSITION})
# F0 is the field that does not belong, F1 a missing one; the rest follow the kind of field
_NUMBERS = {"text": "F2", "label": "F3", "labels": "F3", "number": "F4", "whole": "F5", "flag": "F6", "day": "F7", "span": "F8"}
# a record written just past midnight in another time zone may be dated a day ahead
_GRACE = timedelta(days=1)


def column_problems(tables: Mapping[str, pa.Table], today: date) -> Iterator[Problem]:
    """Every broken field rule, record rule and day ahead of today in the candidate rows."""
    for table_name, table in tables.items():
        for event in pc.unique(table["event"]).to_pylist():
            rows = table.filter(pc.equal(table["event"], event))
            yield from _misplaced(table_name, event, rows)
            yield from _faults(event, rows)
            yield from _broken_rules(event, rows)
            yield from _ahead(rows, today)


def _columns(name: str, rule: FieldRule) -> tuple[str, ...]:
    if name == "labels":
        return ("label",)
    if rule.kind == "span" or name == "on":
        return (f"{name}_from", f"{name}_to")
    return (name,)


def _misplaced(table_name: str, event: str, rows: pa.Table) -> Iterator[Problem]:
    fields = rules_of(class_of(event))
    own = {column for name, rule in fields.items() for column in _columns(name, rule)} | {"on_from", "on_to"}
    for column in TABLES[table_name].names:
        if column in _SYSTEM or column in own or rows[column].null_count == rows.num_rows:
            continue
        for row in rows.filter(pc.is_valid(rows[column])).to_pylist():
            yield Problem(
                row[POSITION], where(row), column, f"{row[column]!r} is given, but {event} has no field {column}",
                f"leave it out; {event} has {', '.join(fields)}", "F0",
            )  # fmt: skip


def _faults(event: str, rows: pa.Table) -> Iterator[Problem]:
    for name, rule in rules_of(class_of(event)).items():
        suspects = rows.filter(_suspect(rows, name, rule))
        for row in suspects.to_pylist():
            value = _value(row, name, rule)
            wrong = fault(rule, value)
            if wrong is not None:
                number = "F1" if value is None else _NUMBERS[rule.kind]
                yield Problem(row[POSITION], where(row), name, wrong, f"it must be {rule.allowed()}", number)


def _value(row: dict[str, Any], name: str, rule: FieldRule) -> object:
    if name == "labels":
        return None if row["label"] is None else (row["label"],)
    if name == "on" and rule.kind == "day":
        return row["on_to"]
    if rule.kind == "span":
        start, end = row[f"{name}_from"], row[f"{name}_to"]
        return None if end is None else Span(start, end)
    value = row[name]
    return tuple(value) if isinstance(value, list) else value


def _suspect(rows: pa.Table, name: str, rule: FieldRule) -> pa.ChunkedArray:
    """A cheap vectorised sieve: True wherever the value might break its rule (fault() then decides)."""
    column = rows[_columns(name, rule)[-1]]
    missing = pc.is_null(column) if rule.required else pa.chunked_array([pa.repeat(pa.scalar(False), len(column))])
    wrong = _SIEVES.get(rule.kind, _nothing)(column, rule)
    return pc.or_(missing, pc.fill_null(wrong, False))


def _nothing(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    return pc.and_(pc.is_null(column), pc.is_valid(column))


def _outside(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    wrong = pc.invert(pc.is_finite(column)) if pa.types.is_floating(column.type) else _nothing(column, rule)
    if rule.minimum is not None:
        wrong = pc.or_(wrong, pc.less(column, rule.minimum))
    if rule.maximum is not None:
        wrong = pc.or_(wrong, pc.greater(column, rule.maximum))
    return wrong


def _odd_text(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    if rule.choices:
        return pc.invert(pc.is_in(column, pa.array(rule.choices, column.type)))
    blank = pc.equal(pc.utf8_length(pc.utf8_trim_whitespace(column)), 0)
    return pc.or_(pc.or_(blank, pc.greater(pc.utf8_length(column), 2000)), pc.match_substring(column, "\0"))


def _odd_label(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    if pa.types.is_list(column.type):
        return pc.is_valid(column)
    # anything but plain letters, digits and a few marks is looked at one by one
    return pc.invert(pc.match_substring_regex(column, r"^[A-Za-z0-9]([A-Za-z0-9 ._-]{0,58}[A-Za-z0-9])?$"))


_SIEVES: dict[str, Callable[[pa.ChunkedArray, FieldRule], pa.ChunkedArray]] = {
    "number": _outside, "whole": _outside, "text": _odd_text, "label": _odd_label, "labels": _odd_label,
    "span": lambda column, rule: pc.is_null(column) if rule.required else _nothing(column, rule),
}  # fmt: skip


def _broken_rules(event: str, rows: pa.Table) -> Iterator[Problem]:
    for rule in class_of(event).rules:
        broken = rows.filter(rule.violations(rows))
        seen: set[int] = set()
        for row in broken.to_pylist():
            if row[POSITION] not in seen:
                seen.add(row[POSITION])
                yield Problem(row[POSITION], where(row), "", rule.wrong, rule.remedy, rule.number)


def _ahead(rows: pa.Table, today: date) -> Iterator[Problem]:
    if "on_to" not in rows.column_names:
        return
    # a span is ahead only when all of it is; a row of several single days when any of them is
    spanned = "on" in rules_of(class_of(rows["event"][0].as_py()))
    earliest = rows["on_from"] if spanned else rows["on_to"]
    ahead = pc.fill_null(pc.greater(earliest, today + _GRACE), False)
    for row in rows.filter(ahead).to_pylist():
        yield Problem(
            row[POSITION], where(row), "on" if spanned else "", f"{row['on_from']} lies ahead of today, {today}",
            "check the year, or record it when it has happened", "B1",
        )  # fmt: skip
