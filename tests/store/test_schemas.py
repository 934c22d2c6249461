"""Records become rows and come back; the columns are those the field rules ask for."""

from __future__ import annotations

import json
from datetime import date

import attrs
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import RecordError
from perennia.records import (
    BooksKept,
    Divided,
    FlowerFate,
    LeftForSeed,
    Noted,
    Picked,
    Record,
    Site,
    Sown,
    Watered,
    Weather,
)
from perennia.records.base import event_of
from perennia.records.catalogue import RECORDS, rules_of
from perennia.store import old_rows
from perennia.store.schemas import PARTITIONED, POSITION, TABLES, content_hash, from_rows, to_tables
from tests.store.stored import batch_of
from tests.strategies import records


def one(record: Record) -> pa.Table:
    """The rows of one record."""
    (table,) = to_tables([record]).values()
    return table


@pytest.mark.parametrize("event", RECORDS)
@given(data=st.data())
def test_a_record_comes_back_from_its_rows(event: str, data: st.DataObject) -> None:
    record = data.draw(records(RECORDS[event]))
    rows = one(record).to_pylist()
    assert from_rows(rows) == record
    assert from_rows([{**row, **iso(row)} for row in rows]) == record


def iso(row: dict[str, object]) -> dict[str, str]:
    """The days of a row as text."""
    return {name: value.isoformat() for name, value in row.items() if isinstance(value, date)}


@given(st.lists(records(), max_size=12))
def test_a_batch_keeps_every_record_at_its_place(batch: list[Record]) -> None:
    found: dict[int, list[dict[str, object]]] = {}
    for name, table in to_tables(batch).items():
        assert table.schema == TABLES[name].append(pa.field(POSITION, pa.int64()))
        places = table[POSITION].to_pylist()
        assert places == sorted(places)
        for row in table.to_pylist():
            found.setdefault(row[POSITION], []).append(row)
    assert [from_rows(found[place]) for place in range(len(batch))] == batch


def test_the_ten_tables() -> None:
    assert set(TABLES) == {
        "sites", "beds", "life", "harvest", "flowering", "care", "weather", "seed", "corrections", "batches",
    }  # fmt: skip
    for name, schema in TABLES.items():
        assert len(set(schema.names)) == len(schema.names)
        assert ("year" in schema.names) == ("on_to" in schema.names) == (name in PARTITIONED)


@pytest.mark.parametrize("cls", RECORDS.values(), ids=RECORDS)
def test_every_field_has_its_column(cls: type[Record]) -> None:
    names = set(TABLES[cls.table].names)
    for name, rule in rules_of(cls).items():
        if name == "labels":
            assert {"label", "shared_by"} <= names
        elif name == "on" or rule.kind == "span":
            assert {f"{name}_from", f"{name}_to"} <= names
        else:
            assert name in names


def test_a_shared_picking_is_a_row_a_label_with_whole_amounts() -> None:
    rows = one(Picked(["A2", "A1"], "2024-07-01", 90.0, 12)).to_pylist()
    assert [(row["label"], row["shared_by"], row["grams"], row["count"]) for row in rows] == [
        ("A2", 2, 90.0, 12),
        ("A1", 2, 90.0, 12),
    ]


def test_shared_by_is_missing_for_a_bed_and_one_for_a_single_label() -> None:
    bed, plant = (one(Watered("2024-07-01", litres=5, **to)).to_pylist()[0] for to in ({"bed": "B"}, {"labels": "A1"}))
    assert (bed["label"], bed["shared_by"]) == (None, None)
    assert (plant["bed"], plant["shared_by"]) == (None, 1)
    assert one(LeftForSeed("A1", "2024-09-01"))["shared_by"].to_pylist() == [1]
    assert one(BooksKept("B", "2024-07-01", "2024-08-01"))["shared_by"].to_pylist() == [None]


@pytest.mark.parametrize(
    ("record", "first", "last"),
    [
        (Weather("2024-07-01", site="Home", rain_mm=3), date(2024, 7, 1), date(2024, 7, 1)),
        (FlowerFate("A1", "t", 1, set_on="2024-07-09", ended_on="2024-08-01"), date(2024, 7, 9), date(2024, 8, 1)),
        (FlowerFate("A1", "t", 1, opened_on="2024-07-02"), date(2024, 7, 2), date(2024, 7, 2)),
        (BooksKept("B", "2024-12-20", "2025-01-05"), date(2024, 12, 20), date(2025, 1, 5)),
        (Sown("A1", "../2018", "Rheum x hybridum"), None, date(2018, 12, 31)),
    ],
)
def test_the_days_and_year_of_a_row(record: Record, first: date | None, last: date) -> None:
    row = one(record).to_pylist()[0]
    assert (row["on_from"], row["on_to"], row["year"]) == (first, last, last.year)


def test_a_number_beyond_the_column_is_refused_in_words() -> None:
    with pytest.raises(RecordError, match=r"Picked, count: is too large"):
        Picked("A1", "2024-07-01", count=10**30)
    with pytest.raises(RecordError, match="Site, note: a value cannot be kept"):
        to_tables([Site("Home", note="\ud800")])


@given(records(), records())
def test_two_records_hash_alike_only_when_they_say_the_same(first: Record, second: Record) -> None:
    hashes = [content_hash(one(record)).to_pylist()[0] for record in (first, second)]
    assert (hashes[0] == hashes[1]) == (first == second)
    assert [len(value) for value in hashes] == [16, 16]


@pytest.mark.parametrize("event", RECORDS)
@given(data=st.data())
def test_a_change_in_any_field_changes_the_hash(event: str, data: st.DataObject) -> None:
    record = data.draw(records(RECORDS[event]))
    other = data.draw(records(RECORDS[event]))
    name = data.draw(st.sampled_from(sorted(rules_of(RECORDS[event]))))
    try:
        changed = attrs.evolve(record, **{name: getattr(other, name)})
    except RecordError:
        return  # the other value breaks a rule beside the rest of this record
    same = {content_hash(one(each)).to_pylist()[0] for each in (record, changed)}
    kind = rules_of(RECORDS[event])[name].kind
    values = [getattr(each, name) for each in (record, changed)]
    if kind == "labels":
        values = [value and frozenset(value) for value in values]
    assert (len(same) == 1) == (values[0] == values[1])


def test_the_order_of_labels_does_not_count_and_shares_hash_alike() -> None:
    table = to_tables(
        [
            Picked(["A1", "A2"], "2024-07-01", 9.0),
            Picked(["A2", "A1"], "2024-07-01", 9.0),
            Picked("A1", "2024-07-01", 9.0),
            Picked(["A1", "A2", "A3"], "2024-07-01", 9.0),
        ]
    )["harvest"]
    hashes = content_hash(table).to_pylist()
    assert len(set(hashes[:4])) == 1
    assert len(set(hashes[5:])) == 1
    assert len(set(hashes)) == 3


def test_an_absent_column_and_a_stored_table_change_no_hash() -> None:
    table = batch_of(Picked(["A1", "A2"], "2024-07-01", -0.0), Picked("A1", "2024-07-01", 0.0))["harvest"]
    hashes = table["content"].to_pylist()
    stored = table.drop_columns([POSITION, "use", "grade"])
    assert content_hash(stored.take([2, 1, 0])).to_pylist() == [hashes[2], hashes[1], hashes[0]]
    assert hashes[2] == content_hash(one(Picked("A1", "2024-07-01", -0.0))).to_pylist()[0]


def test_text_cannot_pass_for_another_field() -> None:
    split, whole = Noted("2024-07-01", "x", bed="B", note="y"), Noted("2024-07-01", "x\x01y", bed="B")
    assert content_hash(one(split)) != content_hash(one(whole))
    into = [one(Divided("A1", "2024-07-01", labels)) for labels in (["B1", "B2"], ["B1 B2"])]
    assert content_hash(into[0]) != content_hash(into[1])


def test_no_text_runs_into_the_next_field() -> None:
    said = [{"use": "x", "used": "y"}, {"use": "xused=y"}, {"use": "d=x"}, {"used": "=x"}, {"use": "x\x1fy"}]
    tables = [
        pa.table({name: pa.array([row.get(name)], pa.string()) for name in ("use", "used")}).append_column(
            "record_id", pa.array([b"1"])
        )
        for row in said
    ]
    assert len({content_hash(table).to_pylist()[0] for table in tables}) == len(said)


@given(records())
def test_old_rows_come_back_from_their_json(record: Record) -> None:
    ((table, rows),) = batch_of(record).items()
    stored = rows.drop_columns([POSITION])
    text = old_rows.to_json(stored)
    assert json.loads(text)[0]["event"] == event_of(type(record))
    assert old_rows.from_json(table, text) == stored
