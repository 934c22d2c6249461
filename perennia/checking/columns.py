"""Field rules and record rules, judged column by column on candidate rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, timedelta
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import where
from perennia.errors import Problem, RecordError
from perennia.records.catalogue import class_of, rules_of
from perennia.records.fields import _LARGEST, _LONGEST, FieldRule, fault
from perennia.records.spans import EARLIEST, Span
from perennia.store.schemas import POSITION, TABLES

_SYSTEM = frozenset({"record_id", "content", "event", "batch", "recorded_at", "year", "shared_by", POSITION})
# F0 is the field that does not belong, F1 a missing one; the rest follow the kind of field
_NUMBERS = {
    "text": "F2", "label": "F3", "labels": "F3", "number": "F4", "whole": "F5", "flag": "F6", "day": "F7", "span": "F8",
}  # fmt: skip
_PLAIN_LABEL = r"^[A-Za-z0-9]([A-Za-z0-9 ._-]{0,58}[A-Za-z0-9])?$"
# a record written just past midnight in another time zone may be dated a day ahead
_GRACE = timedelta(days=1)
# "about this year" written on its first day reaches so far ahead; a span that reaches further is a slip
_FARTHEST = timedelta(days=366 + 183)


def column_problems(tables: Mapping[str, pa.Table], today: date) -> Iterator[Problem]:
    """Every broken field rule, record rule and day ahead of today in the candidate rows."""
    for table_name, table in tables.items():
        events = pc.unique(table["event"]).to_pylist()
        for event in events:
            rows = table if len(events) == 1 else table.filter(pc.equal(table["event"], event))
            yield from _once(_misplaced(table_name, event, rows))
            yield from _once(_faults(event, rows))
            yield from _once(_broken_rules(event, rows))
            yield from _once(_ahead(rows, today))


def _once(problems: Iterator[Problem]) -> Iterator[Problem]:
    """Each problem once a record: the rows of a picking off several labels say the same but for the label."""
    seen: set[tuple[int, str, str]] = set()
    for problem in problems:
        told = (problem.position, problem.field, problem.wrong)
        if told not in seen:
            seen.add(told)
            yield problem


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
                row[POSITION], where(row), column, f"{_told(row[column])} is given, but {event} has no field {column}",
                f"leave it out; {event} has {', '.join(fields)}", "F0",
            )  # fmt: skip


def _told(value: object) -> str:
    return str(value) if isinstance(value, date) else repr(value)


def _faults(event: str, rows: pa.Table) -> Iterator[Problem]:
    for name, rule in rules_of(class_of(event)).items():
        if not rule.required and all(rows[column].null_count == rows.num_rows for column in _columns(name, rule)):
            continue
        suspects = rows.filter(_suspect(rows, name, rule))
        for row in suspects.to_pylist():
            value, wrong = _judged(row, name, rule)
            if wrong is not None:
                number = "F1" if value is None else _NUMBERS[rule.kind]
                yield Problem(row[POSITION], where(row), name, wrong, f"it must be {rule.allowed()}", number)


def _judged(row: dict[str, Any], name: str, rule: FieldRule) -> tuple[object, str | None]:
    """The value of a field in a row, and what is wrong with it."""
    try:
        value = _value(row, name, rule)
    except RecordError as error:
        return "", str(error)
    return value, fault(rule, value)


def _value(row: dict[str, Any], name: str, rule: FieldRule) -> object:
    if name == "labels":
        return None if row["label"] is None else (row["label"],)
    if name == "on" and rule.kind == "day":
        return _day(row["on_to"])
    if rule.kind == "span":
        start, end = row[f"{name}_from"], row[f"{name}_to"]
        if end is None and start is not None:
            raise RecordError(f"the span that starts on {start} has no end")
        return None if end is None else Span(start, end)
    value = row[name]
    if rule.kind == "day":
        return _day(value)
    return tuple(value) if isinstance(value, list) else value


def _day(value: date | None) -> date | None:
    return None if value is None else Span(value, value).end


def _suspect(rows: pa.Table, name: str, rule: FieldRule) -> pa.ChunkedArray:
    """A cheap vectorised sieve: True wherever the value might break its rule (fault() then decides)."""
    column = rows[_columns(name, rule)[-1]]
    missing = pc.is_null(column) if rule.required else _nothing(column, rule)
    wrong = _SIEVES.get(rule.kind, _nothing)(column, rule)
    if rule.kind == "span":
        wrong = _odd_span(rows[_columns(name, rule)[0]], column)
    return pc.or_(missing, pc.fill_null(wrong, False))


def _odd_span(first: pa.ChunkedArray, last: pa.ChunkedArray) -> pa.ChunkedArray:
    turned = pc.fill_null(pc.greater(first, last), False)
    endless = pc.and_(pc.is_valid(first), pc.is_null(last))
    return pc.or_(pc.or_(turned, endless), pc.less(pc.coalesce(first, last), EARLIEST))


def _nothing(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    return pc.and_(pc.is_null(column), pc.is_valid(column))


def _outside(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    wrong = pc.invert(pc.is_finite(column)) if pa.types.is_floating(column.type) else _nothing(column, rule)
    low = -_LARGEST if rule.minimum is None else rule.minimum
    high = _LARGEST if rule.maximum is None else rule.maximum
    return pc.or_(wrong, pc.or_(pc.less(column, low), pc.greater(column, high)))


def _odd_text(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    if rule.choices:
        return pc.invert(pc.is_in(column, pa.array(rule.choices, column.type)))
    blank = pc.equal(pc.utf8_length(pc.utf8_trim_whitespace(column)), 0)
    return pc.or_(pc.or_(blank, pc.greater(pc.utf8_length(column), _LONGEST["text"])), pc.match_substring(column, "\0"))


def _odd_label(column: pa.ChunkedArray, rule: FieldRule) -> pa.ChunkedArray:
    if pa.types.is_list(column.type):
        return pc.is_valid(column)
    # anything but plain letters, digits and a few marks is looked at one by one
    odd = pc.invert(pc.and_(pc.ascii_is_alnum(column), pc.less_equal(pc.binary_length(column), _LONGEST["label"])))
    if pc.any(odd).as_py():
        odd = pc.and_(odd, pc.invert(pc.match_substring_regex(column, _PLAIN_LABEL)))
    return odd


_SIEVES: dict[str, Callable[[pa.ChunkedArray, FieldRule], pa.ChunkedArray]] = {
    "number": _outside, "whole": _outside, "text": _odd_text, "label": _odd_label, "labels": _odd_label,
    "day": lambda column, rule: pc.less(column, EARLIEST),
}  # fmt: skip


def _broken_rules(event: str, rows: pa.Table) -> Iterator[Problem]:
    for rule in class_of(event).rules:
        for row in rows.filter(rule.violations(rows)).to_pylist():
            yield Problem(row[POSITION], where(row), "", rule.wrong, rule.remedy, rule.number)


def _ahead(rows: pa.Table, today: date) -> Iterator[Problem]:
    if "on_to" not in rows.column_names:
        return
    # a span is ahead only when all of it is; a row of several single days when any of them is
    spanned = "on" in rules_of(class_of(rows["event"][0].as_py()))
    earliest = rows["on_from"] if spanned else rows["on_to"]
    near, far = _later(today, _GRACE), _later(today, _FARTHEST)
    ahead = pc.or_(pc.fill_null(pc.greater(earliest, near), False), pc.fill_null(pc.greater(rows["on_to"], far), False))
    for row in rows.filter(ahead).to_pylist():
        day = row["on_from"] if row["on_from"] and row["on_from"] > near else row["on_to"]
        yield Problem(
            row[POSITION], where(row), "on" if spanned else "", f"{day} lies ahead of today, {today}",
            "check the year, or record it when it has happened", "B1",
        )  # fmt: skip


def _later(day: date, by: timedelta) -> date:
    return date.max if date.max - day < by else day + by
