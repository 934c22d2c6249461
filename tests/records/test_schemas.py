"""The JSON Schemas in schemas/ are in step with the classes, valid, and hold for every record written out."""

from __future__ import annotations

import json
import runpy
import sys
from pathlib import Path
from typing import Any

import attrs
import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.records import schemas
from perennia.records.base import Record
from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.convert import to_dict
from tests.records.field_values import bad_json_values, plain_record, records_of

FOLDER = Path(__file__).parents[2] / "schemas"
VALIDATORS = {
    event: jsonschema.Draft202012Validator(
        schemas.schema_of(cls), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    for event, cls in RECORDS.items()
}


def test_the_folder_is_in_step_with_the_classes() -> None:
    in_folder = {path.name: path.read_text(encoding="utf-8") for path in FOLDER.iterdir()}
    made = {f"{event}.schema.json": schemas.schema_text(cls) for event, cls in RECORDS.items()}
    assert in_folder == made, "run python -m perennia.records.schemas and remove schemas of events that are gone"


def test_the_command_writes_every_schema(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["schemas", str(tmp_path / "new" / "folder")])
    monkeypatch.delitem(sys.modules, "perennia.records.schemas")
    runpy.run_module("perennia.records.schemas", run_name="__main__")
    assert {path.name for path in (tmp_path / "new" / "folder").iterdir()} == {path.name for path in FOLDER.iterdir()}


@pytest.mark.parametrize("event", RECORDS)
def test_a_schema_is_valid_and_closed(event: str) -> None:
    schema = schemas.schema_of(RECORDS[event])
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["properties"]["event"] == {"const": event}
    assert schema["additionalProperties"] is False
    assert set(schema["properties"]) == {"event", *rules_of(RECORDS[event])}
    assert "not sufficient" in schema["$comment"]


@pytest.mark.parametrize("event", RECORDS)
def test_a_schema_says_all_that_the_field_rules_say(event: str) -> None:
    schema = schemas.schema_of(RECORDS[event])
    for name, rule in rules_of(RECORDS[event]).items():
        stated = schema["properties"][name]
        values = stated if rule.required else stated["anyOf"][0]
        default = attrs.fields_dict(RECORDS[event])[name].default
        assert stated["description"] == rule.meaning
        assert stated.get("x-unit", "") == rule.unit
        assert values.get("minimum") == rule.minimum
        assert values.get("maximum") == rule.maximum
        assert tuple(values.get("enum", ())) == rule.choices
        assert (name in schema["required"]) == (default is attrs.NOTHING)
        assert (not rule.required) == ({"type": "null"} in stated.get("anyOf", []))


@pytest.mark.parametrize("event", RECORDS)
@given(data=st.data())
def test_every_record_written_out_satisfies_its_schema(event: str, data: st.DataObject) -> None:
    written = to_dict(data.draw(records_of(RECORDS[event])))
    VALIDATORS[event].validate(json.loads(json.dumps(written)))


@pytest.mark.parametrize("event", RECORDS)
def test_a_wrong_value_does_not_satisfy_the_schema(event: str) -> None:
    written = to_dict(plain_record(RECORDS[event]))
    assert VALIDATORS[event].is_valid(written)
    for name, rule in rules_of(RECORDS[event]).items():
        for wrong in bad_json_values(rule):
            assert not VALIDATORS[event].is_valid({**written, name: wrong}), f"{name}={wrong!r}"


@pytest.mark.parametrize(
    "change", [{"weight": 3}, {"event": "sown"}, {"labels": None}, {"on": "2024-7-1"}, {"on": "15/07/2024"}]
)
def test_a_schema_refuses(change: dict[str, Any]) -> None:
    picked = {"event": "picked", "labels": ["A1"], "on": "2024-07-15", "grams": 120.0}
    VALIDATORS["picked"].validate(picked)
    assert not VALIDATORS["picked"].is_valid(picked | change)
    without_day = {key: value for key, value in picked.items() if key != "on"}
    assert not VALIDATORS["picked"].is_valid(without_day)


def test_rules_across_fields_are_listed_with_their_numbers() -> None:
    class_rules: type[Record] = RECORDS["watered"]
    listed = schemas.schema_of(class_rules)["x-rules"]
    assert [rule["number"] for rule in listed] == ["R2", "R2"]
    assert "litres and mm" in listed[1]["wrong"]
    assert "x-rules" not in schemas.schema_of(RECORDS["mulched"])
