"""Records become plain data and come back unchanged; what is no record is refused in words."""

from __future__ import annotations

import json
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import RecordError
from perennia.records import Picked, Sown, Weather
from perennia.records.base import event_of
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.records.convert import from_dict, to_dict
from tests.records.field_values import records_of


@pytest.mark.parametrize("event", RECORDS)
@given(data=st.data())
def test_a_record_comes_back_from_its_json(event: str, data: st.DataObject) -> None:
    record = data.draw(records_of(RECORDS[event]))
    written = to_dict(record)
    back = from_dict(json.loads(json.dumps(written)))
    assert back == record
    assert type(back) is RECORDS[event]
    assert to_dict(back) == written


@pytest.mark.parametrize("event", RECORDS)
@given(data=st.data())
def test_fields_at_their_default_are_left_out(event: str, data: st.DataObject) -> None:
    record = data.draw(records_of(RECORDS[event]))
    defaults = {attribute.name: attribute.default for attribute in attrs.fields(RECORDS[event])}
    expected = {name for name in rules_of(RECORDS[event]) if getattr(record, name) != defaults[name]}
    assert set(to_dict(record)) == {"event", *expected}


def test_the_plain_form_of_a_picking() -> None:
    record = Picked(["A1", "A2"], "2024-07", grams=120, note="wet")
    assert to_dict(record) == {
        "event": "picked",
        "labels": ["A1", "A2"],
        "on": "2024-07-01/2024-07-31",
        "grams": 120.0,
        "note": "wet",
    }


def test_plain_data_may_be_as_a_grower_writes_it() -> None:
    assert from_dict({"event": "picked", "labels": "A1", "on": "2024-07", "grams": 120}) == Picked(
        "A1", "2024-07", grams=120
    )
    assert from_dict({"event": "weather", "on": "2024-07-15", "site": "plot", "rain_mm": 3}) == Weather(
        "2024-07-15", site="plot", rain_mm=3
    )
    sown = {"event": "sown", "label": "A1", "on": "2024-05", "crop": "Rheum x hybridum", "bed": None}
    assert from_dict(sown) == Sown("A1", "2024-05", "Rheum x hybridum")


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({}, "None is no event; known are site, bed, sown"),
        ({"event": "harvested"}, "'harvested' is no event; known are site, bed, sown"),
        ({"event": 5}, "5 is no event"),
        ({"event": "picked", "on": "2024-07-15", "grams": 1}, "labels is missing"),
        ({"event": "picked", "labels": "A1", "on": "2024-07-15", "kg": 1, "grams": 3}, "kg"),
        ({"event": "picked", "labels": "A1", "on": "15/07/2024", "grams": 1}, "not an ISO 8601 date"),
        ({"event": "picked", "labels": "A1", "on": "2024-07-15", "grams": -1}, "Picked, grams: -1 is below 0"),
        ({"event": "picked", "labels": "A1", "on": "2024-07-15"}, "none of grams, count is given"),
        ({"event": "counted", "label": "A1", "on": "2024-07-15", "alive": 2.5}, "2.5 is not a whole number"),
    ],
)
def test_what_is_no_record_is_refused(data: dict[str, Any], message: str) -> None:
    kept = dict(data)
    with pytest.raises(RecordError, match=message):
        from_dict(data)
    assert data == kept, "the caller's dict is not changed"


@pytest.mark.parametrize("event", RECORDS)
def test_every_missing_required_field_is_named(event: str) -> None:
    needed = [attribute.name for attribute in attrs.fields(RECORDS[event]) if attribute.default is attrs.NOTHING]
    assert needed
    with pytest.raises(RecordError) as caught:
        from_dict({"event": event})
    for name in needed:
        assert f"{name} is missing" in str(caught.value)


def test_events_are_named_after_their_classes() -> None:
    assert {event_of(cls) for cls in RECORDS.values()} == set(RECORDS)
    assert class_of("flower_fate").__name__ == "FlowerFate"
    assert len(RECORDS) == 41
    with pytest.raises(RecordError, match="is no event"):
        class_of("FlowerFate")
