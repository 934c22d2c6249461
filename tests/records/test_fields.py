"""Every field of every record takes what its rule allows and refuses what it does not, in words for the grower."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import RecordError
from perennia.records import Counted, Picked, Site, Sown
from perennia.records.base import Record
from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.fields import FieldRule, fault
from tests.records.field_values import bad_values, good_values, plain_record, records_of

CLASSES = list(RECORDS.values())
FIELDS = [(cls, name) for cls in CLASSES for name in rules_of(cls)]
PLAIN = {cls: plain_record(cls) for cls in CLASSES}


def _name(value: Any) -> str | None:
    return value.__name__ if isinstance(value, type) else None


@pytest.mark.parametrize("cls", CLASSES, ids=_name)
@given(data=st.data())
def test_allowed_values_are_taken_and_kept(cls: type[Record], data: st.DataObject) -> None:
    record = data.draw(records_of(cls))
    for name, rule in rules_of(cls).items():
        assert fault(rule, getattr(record, name)) is None


@pytest.mark.parametrize(("cls", "name"), FIELDS, ids=_name)
def test_every_wrong_value_is_refused(cls: type[Record], name: str) -> None:
    rule = rules_of(cls)[name]
    for wrong in bad_values(rule):
        with pytest.raises(RecordError):
            attrs.evolve(PLAIN[cls], **{name: wrong})


@pytest.mark.parametrize(
    ("cls", "name"), [(cls, name) for cls, name in FIELDS if rules_of(cls)[name].kind in ("number", "whole", "text")],
    ids=_name,
)  # fmt: skip
def test_a_refusal_names_the_record_the_field_and_what_would_be_right(cls: type[Record], name: str) -> None:
    rule = rules_of(cls)[name]
    for wrong in bad_values(rule):
        with pytest.raises(RecordError) as caught:
            attrs.evolve(PLAIN[cls], **{name: wrong})
        assert str(caught.value).startswith(f"{cls.__name__}, {name}: ")
        assert str(caught.value).endswith(f"; it must be {rule.allowed()}")


@given(
    st.floats(-1e6, 1e6),
    st.none() | st.floats(-1e6, 1e6),
    st.none() | st.floats(-1e6, 1e6),
)
def test_a_number_is_right_exactly_within_its_bounds(value: float, low: float | None, high: float | None) -> None:
    rule = FieldRule("number", "anything", "g", minimum=low, maximum=high)
    within = (low is None or low <= value) and (high is None or value <= high)
    assert (fault(rule, value) is None) == within


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (-1, "Picked, grams: -1 is below 0; it must be a number of g, 0 or more"),
        ("120 g", "Picked, grams: '120 g' is not a number; it must be a number of g, 0 or more"),
        (float("nan"), "Picked, grams: nan is not a number; it must be a number of g, 0 or more"),
    ],
)
def test_the_words_of_a_refusal(value: Any, message: str) -> None:
    with pytest.raises(RecordError) as caught:
        Picked("A1", "2024-07-15", grams=value)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (FieldRule("number", "", "m2", minimum=0, maximum=2.5), "a number of m2 from 0 to 2.5"),
        (FieldRule("number", "", "m2", minimum=0), "a number of m2, 0 or more"),
        (FieldRule("whole", "", minimum=None), "a whole number"),
        (FieldRule("text", "", choices=("open", "net")), "one of open, net"),
        (FieldRule("flag", ""), "true or false"),
        (FieldRule("day", ""), "a single day such as 2024-07-15"),
    ],
)
def test_what_is_allowed_is_said_in_words(rule: FieldRule, words: str) -> None:
    assert rule.allowed() == words


@pytest.mark.parametrize("cls", CLASSES, ids=_name)
def test_every_field_has_a_meaning_and_every_measure_a_unit(cls: type[Record]) -> None:
    for name, rule in rules_of(cls).items():
        assert rule.meaning.strip()
        assert rule.unit or rule.kind != "number" or name == "cost"
        assert rule.choices == () or rule.kind == "text"


@pytest.mark.parametrize("cls", CLASSES, ids=_name)
def test_records_are_frozen_and_slotted(cls: type[Record]) -> None:
    record = PLAIN[cls]
    first = next(iter(rules_of(cls)))
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        setattr(record, first, getattr(record, first))
    assert not hasattr(record, "__dict__")
    assert hash(record) == hash(attrs.evolve(record))
    assert record == attrs.evolve(record)


@pytest.mark.parametrize("cls", CLASSES, ids=_name)
def test_time_cost_and_note_go_with_every_record_and_only_by_name(cls: type[Record]) -> None:
    record = attrs.evolve(PLAIN[cls], minutes=12, cost=3.5, note="after rain")
    assert (record.minutes, record.cost, record.note) == (12.0, 3.5, "after rain")
    assert list(rules_of(cls))[-3:] == ["minutes", "cost", "note"]
    assert all(attrs.fields_dict(cls)[name].kw_only for name in ("minutes", "cost", "note"))


def test_numbers_of_numpy_become_plain_ones() -> None:
    record = Picked("A1", "2024-07-15", grams=np.float32(120.5), count=np.int64(4))
    assert (type(record.grams), type(record.count)) == (float, int)
    assert (record.grams, record.count) == (120.5, 4)
    assert type(Counted("A1", "2024-07-15", 3.0).alive) is int


def test_one_label_or_several() -> None:
    assert Picked("A1", "2024-07-15", grams=1).labels == ("A1",)
    assert Picked(["A2", " A1 "], "2024-07-15", grams=1).labels == ("A2", "A1")
    with pytest.raises(RecordError, match="names a label twice"):
        Picked(["A1", "A1 "], "2024-07-15", grams=1)
    with pytest.raises(RecordError, match="Sown, label: 'A1/2021' is not a name"):
        Sown("A1/2021", "2024-04-15", "Phaseolus coccineus")


def test_the_longest_name_and_the_longest_text_are_taken() -> None:
    longest = "x" * 60
    assert Picked(longest, "2024-07-15", grams=1, note="y" * 2000).labels == (longest,)
    assert Counted("Ä 1 (north); row", "2024-07-15", 1).label == "Ä 1 (north); row"
    for wrong in ("A\t1", "A\u200b1", "A\u00a0", " A1", "A1 "):
        with pytest.raises(RecordError, match="Counted, label: "):
            Counted(wrong, "2024-07-15", 1)


def test_the_growing_year_may_begin_on_any_day_but_a_leap_day() -> None:
    assert Site("plot", season_starts="07-01").season_starts == "07-01"
    assert len(rules_of(Site)["season_starts"].choices) == 365
    for wrong in ("02-29", "13-01", "7-1", "2024-07-01"):
        with pytest.raises(RecordError, match="season_starts"):
            Site("plot", season_starts=wrong)


@given(st.data())
def test_a_missing_value_is_refused_only_where_required(data: st.DataObject) -> None:
    cls, name = data.draw(st.sampled_from(FIELDS))
    rule = rules_of(cls)[name]
    assert (fault(rule, None) is None) == (not rule.required)
    value = data.draw(good_values(rule))
    assert value is not None or not rule.required
