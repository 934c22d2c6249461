"""Rules across fields judge a record and its stored row alike, and say what is wrong."""

from __future__ import annotations

from datetime import date
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.compute as pc
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import RecordError
from perennia.records import (
    AlreadyHere,
    BooksKept,
    CuttingTaken,
    Divided,
    FlowerFate,
    GerminationTest,
    Neighbour,
    Noted,
    Picked,
    TrussCount,
    Watered,
    Weather,
)
from perennia.records.base import Record
from perennia.records.catalogue import RECORDS
from perennia.records.rules import AtLeastOne, RecordRule
from perennia.store.schemas import TABLES, to_tables
from tests.records.field_values import keeping_rules, records_of, unruled, values_of

DAYS_OF_A_FLOWER = ("opened_on", "set_on", "ended_on")
RULED = [cls for cls in RECORDS.values() if cls.rules]
RULES = [(cls, rule) for cls in RULED for rule in cls.rules]


def _name(value: Any) -> str:
    return value.__name__ if isinstance(value, type) else f"{value.number}-{value.wrong}"


def _violations(rule: RecordRule, records: list[Any]) -> list[bool]:
    """What the rule says of each stored row; a record of several labels has a row each, which must agree."""
    table = _rows(records)
    said: dict[int, set[bool]] = {}
    for position, broken in zip(table["batch_position"].to_pylist(), rule.violations(table).to_pylist(), strict=True):
        said.setdefault(position, set()).add(broken)
    assert sorted(said) == list(range(len(records)))
    assert all(len(verdicts) == 1 for verdicts in said.values())
    return [said[position].pop() for position in range(len(records))]


def _rows(records: list[Any]) -> pa.Table:
    """The stored rows. A flower without any day has none to be filed under, so it borrows one and gives it back."""
    dayless = [isinstance(record, FlowerFate) and not AtLeastOne(DAYS_OF_A_FLOWER).holds(record) for record in records]
    filed = [
        unruled(FlowerFate, {**_values(record), "opened_on": date(2024, 7, 15)}) if without else record
        for record, without in zip(records, dayless, strict=True)
    ]
    (table,) = to_tables(filed).values()
    if not any(dayless):
        return table
    opened_on = pc.if_else(pa.array(dayless), pa.scalar(None, pa.date32()), table["opened_on"])
    return table.set_column(table.column_names.index("opened_on"), "opened_on", opened_on)


@st.composite
def _lawful_and_lawless(draw: st.DrawFn, cls: type[Record]) -> list[Any]:
    """Records of one class, most with any allowed values, some made to keep the rules."""
    lawless = [unruled(cls, values) for values in draw(st.lists(values_of(cls), min_size=1, max_size=4))]
    return [*lawless, draw(records_of(cls)), *(_spoiled(record) for record in lawless)]


def _spoiled(record: Any) -> Any:
    """A twin of a record, spoiled where chance alone seldom would: a plant divided into itself, a crop of nothing."""
    values = _values(record)
    if "into" in values:
        values["into"] = (*values["into"], values["label"])
    if "grams" in values:
        values |= {"grams": 0.0, "count": 5}
    return unruled(type(record), values)


def _values(record: Any) -> dict[str, Any]:
    return attrs.asdict(record, recurse=False)


@pytest.mark.parametrize(("cls", "rule"), RULES, ids=_name)
@given(data=st.data())
def test_a_rule_says_the_same_of_a_record_and_of_its_rows(
    cls: type[Record], rule: RecordRule, data: st.DataObject
) -> None:
    records = data.draw(_lawful_and_lawless(cls))
    assert _violations(rule, records) == [not rule.holds(record) for record in records]


@pytest.mark.parametrize(("cls", "rule"), RULES, ids=_name)
def test_a_rule_says_nothing_of_an_empty_table(cls: type[Record], rule: RecordRule) -> None:
    empty = TABLES[cls.table].empty_table()
    assert rule.violations(empty).to_pylist() == []
    assert pa.types.is_boolean(rule.violations(empty).type)


@pytest.mark.parametrize("cls", RULED, ids=lambda cls: cls.__name__)
@given(data=st.data())
def test_a_record_is_made_exactly_when_its_rules_hold(cls: type[Record], data: st.DataObject) -> None:
    values = data.draw(values_of(cls))
    broken = [rule for rule in cls.rules if not rule.holds(unruled(cls, values))]
    if not broken:
        assert cls(**values) == unruled(cls, values)
        return
    with pytest.raises(RecordError) as caught:
        cls(**values)
    assert str(caught.value) == f"{cls.__name__}: {broken[0].wrong}; {broken[0].remedy}"


@pytest.mark.parametrize("cls", RULED, ids=lambda cls: cls.__name__)
@given(data=st.data())
def test_values_that_keep_the_rules_are_left_alone(cls: type[Record], data: st.DataObject) -> None:
    record = data.draw(records_of(cls))
    values = _values(record)
    assert keeping_rules(cls, values, lambda rule: pytest.fail("nothing was missing")) == values


DAY = "2024-07-15"


@pytest.mark.parametrize(
    ("cls", "values", "message"),
    [
        (Picked, {"labels": "A1", "on": DAY}, "Picked: none of grams, count is given; give at least one of them"),
        (Picked, {"labels": "A1", "on": DAY, "grams": 0, "count": 5}, "one of grams and count is 0 and the other"),
        (Picked, {"labels": "A1", "on": DAY, "grams": 90, "count": 0}, "leave empty what was not measured"),
        (FlowerFate, {"label": "A1", "truss": "1", "position": 1}, "none of opened_on, set_on, ended_on is given"),
        (Noted, {"on": DAY, "what": "slug"}, "Noted: bed and labels are both given or both missing; give either"),
        (Noted, {"on": DAY, "what": "slug", "bed": "b", "labels": "A1"}, "bed and labels are both given"),
        (Watered, {"on": DAY, "bed": "b", "litres": 4, "mm": 2}, "litres and mm are both given or both missing"),
        (Watered, {"on": DAY, "bed": "b"}, "litres and mm are both given or both missing"),
        (Weather, {"on": DAY, "rain_mm": 3}, "site and bed are both given or both missing"),
        (Weather, {"on": DAY, "site": "s"}, "none of t_min_c, t_max_c"),
        (Weather, {"on": DAY, "site": "s", "t_min_c": 9, "t_max_c": 8}, "t_min_c is more than t_max_c; check the two"),
        (BooksKept, {"bed": "b", "since": DAY, "until": "2024-07-14"}, "since lies after until; check the two dates"),
        (AlreadyHere, {"label": "A", "on": "2024", "crop": "c", "since": "2025"}, "since lies after on"),
        (Neighbour, {"on": DAY, "bed": "b", "crop": "c", "until": "2024-07-14"}, "on lies after until"),
        (
            FlowerFate,
            {"label": "A", "truss": "1", "position": 1, "opened_on": DAY, "ended_on": "2024-07-01"},
            "opened_on lies after ended_on",
        ),
        (TrussCount, {"label": "A", "truss": "1", "on": DAY, "opened": 3, "set": 4}, "set is more than opened"),
        (GerminationTest, {"lot": "l", "on": DAY, "sown": 10, "germinated": 11}, "germinated is more than sown"),
        (Divided, {"label": "A", "on": DAY, "into": ["B", "A"]}, "the plant's own label is among the new ones; give"),
        (CuttingTaken, {"label": "A", "on": DAY, "into": "A"}, "the plant's own label is among the new ones"),
    ],
)
def test_a_broken_rule_is_told(cls: type[Record], values: dict[str, Any], message: str) -> None:
    with pytest.raises(RecordError, match=message):
        cls(**values)


@pytest.mark.parametrize(
    ("cls", "values"),
    [
        (Picked, {"labels": "A1", "on": DAY, "grams": 0}),
        (Picked, {"labels": "A1", "on": DAY, "count": 0}),
        (Picked, {"labels": "A1", "on": DAY, "grams": 0, "count": 0}),
        (Weather, {"on": DAY, "site": "s", "t_min_c": 8, "t_max_c": 8}),
        (BooksKept, {"bed": "b", "since": DAY, "until": DAY}),
        # spans that overlap can be in order, so they are not refused
        (AlreadyHere, {"label": "A", "on": DAY, "crop": "c", "since": "2024"}),
        (AlreadyHere, {"label": "A", "on": "../2024", "crop": "c", "since": "../2030"}),
        (Neighbour, {"on": "2024-07", "bed": "b", "crop": "c", "until": "2024-07-01"}),
        (TrussCount, {"label": "A", "truss": "1", "on": DAY, "opened": 3, "set": 3, "full_size": 0}),
        (GerminationTest, {"lot": "l", "on": DAY, "sown": 10, "germinated": 10}),
        (Divided, {"label": "A", "on": DAY, "into": ["B", "C"]}),
    ],
)
def test_the_edge_of_a_rule_is_inside(cls: type[Record], values: dict[str, Any]) -> None:
    assert all(rule.holds(cls(**values)) for rule in cls.rules)


def test_rules_are_numbered_by_kind() -> None:
    numbers = {(type(rule).__name__, rule.number) for _, rule in RULES}
    assert numbers == {
        ("AtLeastOne", "R1"),
        ("ExactlyOne", "R2"),
        ("NotAfter", "R3"),
        ("NotMoreThan", "R4"),
        ("NotOwnDaughter", "R5"),
        ("ZeroTogether", "R6"),
    }
