"""Whether candidate tables have the columns and types of their schema, and whether the rows of one record agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import where
from perennia.errors import ArgumentError, Problem, RefusedError
from perennia.records.catalogue import RECORDS, rules_of
from perennia.store.digests import halves_of, rise
from perennia.store.schemas import POSITION, TABLES

# filled in when the batch is committed
_LATER = frozenset({"record_id", "content", "batch", "recorded_at", "year"})
_RECORD_TABLES = tuple(dict.fromkeys(cls.table for cls in RECORDS.values()))
_SHARED = frozenset(cls.table for cls in RECORDS.values() if "labels" in rules_of(cls))
_REMEDY = "make the rows with perennia.store.schemas.to_tables, or give the columns as it does"


def well_formed(tables: Mapping[str, pa.Table]) -> dict[str, pa.Table]:
    """The candidate tables with the columns of their schema in its types, then batch_position.

    Raises RefusedError (B6) for a table that does not exist, a column that lacks, is strange or holds values of
    another type, and a row without its place in the batch or with an event that is not of its table.
    """
    if not isinstance(tables, Mapping):
        raise ArgumentError(f"tables is a {type(tables).__name__}; give a dict of Arrow tables by name")
    problems = [problem for name, table in tables.items() for problem in _misshapen(name, table)]
    if problems:
        raise RefusedError(problems)
    formed = {name: table.select([*TABLES[name].names, POSITION]).cast(_schema(name)) for name, table in tables.items()}
    problems = [problem for name, table in formed.items() for problem in _misfiled(name, table)]
    if problems:
        raise RefusedError(problems)
    return formed


def _schema(name: str) -> pa.Schema:
    return TABLES[name].append(pa.field(POSITION, pa.int64()))


def _misshapen(name: str, table: pa.Table) -> Iterator[Problem]:
    if name not in _RECORD_TABLES:
        yield _of_table(name, "", f"no records go to a table of this name; there are {', '.join(_RECORD_TABLES)}")
        return
    if not isinstance(table, pa.Table):
        yield _of_table(name, "", f"a {type(table).__name__} is no Arrow table")
        return
    schema = _schema(name)
    for column in sorted({*schema.names, *table.column_names}):
        count = table.column_names.count(column)
        if column not in schema.names:
            yield _of_table(name, column, "the table has no such column")
        elif count != 1:
            yield _of_table(name, column, f"the column is there {count} times" if count else "the column is missing")
        else:
            yield from _mistyped(name, column, table[column], schema.field(column).type)


def _mistyped(name: str, column: str, values: pa.ChunkedArray, wanted: pa.DataType) -> Iterator[Problem]:
    if values.type == wanted:
        return
    wrong = f"{values.type} is not the column's type, {wanted}"
    if not _kin(values.type, wanted):
        yield _of_table(name, column, wrong)
        return
    try:
        values.cast(wanted)
    except pa.ArrowException as error:
        yield _of_table(name, column, f"{wrong}, and a value does not fit it ({error})")


def _kin(given: pa.DataType, wanted: pa.DataType) -> bool:
    """Whether one type can stand for another without a value being read anew: no text for numbers, no days for text."""
    if pa.types.is_dictionary(given):
        given = given.value_type
    lists = (pa.types.is_list, pa.types.is_large_list)
    if any(test(given) for test in lists) and any(test(wanted) for test in lists):
        return _kin(given.value_type, wanted.value_type)
    kinds = (
        (pa.types.is_boolean,), (pa.types.is_integer, pa.types.is_floating), (pa.types.is_date, pa.types.is_timestamp),
        (pa.types.is_string, pa.types.is_large_string), (pa.types.is_binary, pa.types.is_fixed_size_binary),
    )  # fmt: skip
    alike = any(any(test(given) for test in kind) and any(test(wanted) for test in kind) for kind in kinds)
    return alike or pa.types.is_null(given)


def _misfiled(name: str, table: pa.Table) -> Iterator[Problem]:
    if table[POSITION].null_count:
        yield _of_table(name, POSITION, "a row has no place in the batch")
    if pc.any(pc.not_equal(pc.binary_length(table["record_id"]), 16)).as_py():
        yield _of_table(name, "record_id", "an id is not of 16 bytes")
    for field in table.schema:
        if field.type == pa.date32() and not _in_calendar(table[field.name]):
            yield _of_table(name, field.name, "a day lies outside the years 1 to 9999")
    own = [event for event, cls in RECORDS.items() if cls.table == name]
    for event in pc.unique(table["event"]).to_pylist():
        if event not in own:
            yield _of_table(name, "event", f"{event!r} is no event of this table; it holds {', '.join(own)}")


def _in_calendar(days: pa.ChunkedArray) -> bool:
    """Whether Python can say every day; a column of days can hold some that it cannot."""
    reach = pc.min_max(days.cast(pa.int32()).cast(pa.int64())).as_py()
    first, last = ((day - date(1970, 1, 1)).days for day in (date.min, date.max))
    return reach["min"] is None or (first <= reach["min"] and reach["max"] <= last)


def _of_table(name: str, column: str, wrong: str) -> Problem:
    return Problem(0, f"table {name}", column, wrong, _REMEDY, "B6")


def share_problems(tables: Mapping[str, pa.Table], *, alone: bool = False) -> Iterator[Problem]:
    """Rows of well-formed candidate tables that do not make up one record each.

    F3: a label named twice by one record. B7: rows of one record that say different things, a number of sharers that
    is not the number of its rows, one place in the batch or one id for two records. alone: whether it is known
    that no two rows share a place or an id.
    """
    for name, table in tables.items():
        suspects = _not_plainly_one(name, table)
        if suspects.num_rows:
            yield from _torn(name, suspects)
    if not alone and _may_be_doubled(tables):
        yield from _doubled(tables)


def _not_plainly_one(name: str, table: pa.Table) -> pa.Table:
    """A cheap sieve: all rows but those that are alone in their place in the batch and say so."""
    several = pc.is_in(table[POSITION], pa.array(repeated(table[POSITION].to_numpy())))
    if name not in _SHARED:
        return table.filter(several)
    alone = pc.equal(pc.fill_null(table["shared_by"], 0), pc.cast(pc.is_valid(table["label"]), pa.int64()))
    return table.filter(pc.or_(several, pc.invert(alone)))


def _may_be_doubled(tables: Mapping[str, pa.Table]) -> bool:
    """A cheap sieve: whether one place in the batch may have two ids, or one id two places."""
    if not tables:
        return False
    places = np.concatenate([table[POSITION].to_numpy() for table in tables.values()])
    # half an id tells two apart but for a chance in 10**19
    ids = np.concatenate([halves_of(table["record_id"])[1] for table in tables.values()])
    return _has_two(places, ids) or _has_two(ids, places)


def repeated(keys: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The keys of more than one row."""
    # rising runs of keys are only merged by this kind of sorting
    rising = keys if rise(keys) else np.sort(keys, kind="stable")
    return np.unique(rising[1:][rising[1:] == rising[:-1]])


def _has_two(keys: npt.NDArray[Any], values: npt.NDArray[Any]) -> bool:
    """Whether rows of one key have different values."""
    several = np.isin(keys, repeated(keys))
    keys, values = keys[several], values[several]
    order = np.argsort(keys, kind="stable")
    alike = keys[order][1:] == keys[order][:-1]
    return bool((alike & (values[order][1:] != values[order][:-1])).any())


def _torn(name: str, table: pa.Table) -> Iterator[Problem]:
    shared = name in _SHARED
    columns = ["content", "record_id", "event", *(["label"] if shared else [])]
    counts = table.group_by(POSITION, use_threads=False).aggregate(
        [([], "count_all"), *((column, "count_distinct") for column in columns)]
        + ([("shared_by", "min"), ("shared_by", "max"), ("shared_by", "count")] if shared else [])
    )
    rows = counts["count_all"]
    differing = pc.max_element_wise(*(counts[f"{column}_count_distinct"] for column in columns[:3]))
    yield from _at(
        table, counts.filter(pc.greater(differing, 1)), "", "its rows say different things",
        "let the rows of one record differ in their label only", "B7",
    )  # fmt: skip
    if not shared:
        yield from _at(table, counts.filter(pc.greater(rows, 1)), "", "it has more than one row", _REMEDY, "B7")
        return
    twice = pc.and_(pc.greater(rows, 1), pc.less(counts["label_count_distinct"], rows))
    yield from _at(table, counts.filter(twice), "labels", "names a label twice", "name each label once", "F3")
    # a record of a bed names no label and is shared by none
    sharers = pc.if_else(pc.greater(counts["label_count_distinct"], 0), rows, 0)
    told = pc.if_else(pc.equal(counts["shared_by_count"], rows), counts["shared_by_max"], 0)
    odd = pc.or_(pc.not_equal(told, sharers), pc.fill_null(pc.less(counts["shared_by_min"], sharers), False))
    yield from _at(
        table, counts.filter(pc.and_(odd, pc.invert(twice))), "shared_by", "is not the number of its labels",
        "give a row for each label, with the number of rows as shared_by in each", "B7",
    )  # fmt: skip


def _doubled(tables: Mapping[str, pa.Table]) -> Iterator[Problem]:
    if not tables:
        return
    columns = ["record_id", POSITION]
    owners = pa.concat_tables(
        [table.select(columns).group_by(columns, use_threads=False).aggregate([]) for table in tables.values()]
    )
    for column in (POSITION, "record_id"):
        counts = owners.group_by(column, use_threads=False).aggregate([([], "count_all")])
        twice = pc.drop_null(counts.filter(pc.greater(counts["count_all"], 1))[column])
        for table in tables.values():
            rows = table.filter(pc.is_in(table[column], twice.combine_chunks()))
            for row in _first_of_each(rows):
                yield doubled(row[POSITION], where(row), column)


def doubled(place: int, record: str, column: str) -> Problem:
    """One record's place in the batch, or its id, is that of another record too."""
    word = "id" if column == "record_id" else "place in the batch"
    return Problem(
        place, record, column, f"its {word} is that of another record too", "give each record one of its own", "B7"
    )


def _at(table: pa.Table, wrong: pa.Table, field: str, what: str, remedy: str, rule: str) -> Iterator[Problem]:
    """One problem for each position found in wrong."""
    if wrong.num_rows:
        rows = table.filter(pc.is_in(table[POSITION], pc.unique(wrong[POSITION])))
        for row in _first_of_each(rows):
            yield Problem(row[POSITION], where(row), field, what, remedy, rule)


def _first_of_each(rows: pa.Table) -> Iterator[dict[str, Any]]:
    """The first row of each record."""
    seen: set[int] = set()
    for row in rows.to_pylist():
        if row[POSITION] not in seen:
            seen.add(row[POSITION])
            yield row
