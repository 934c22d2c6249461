"""JSON Schemas of the records, one an event, made from the field rules.

    python -m perennia.records.schemas [FOLDER]

writes ``FOLDER/<event>.schema.json`` (``schemas`` when no folder is given). A schema describes what
``perennia.records.convert.to_dict`` writes. It is necessary, not sufficient: rules across fields (listed
under ``x-rules``), labels and beds that must exist, and the order of a plant's life are checked only when
a garden takes the record in.
"""

from __future__ import annotations

import argparse
import inspect
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs

from perennia.records.base import Record, event_of
from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.convert import TAG
from perennia.records.fields import _LONGEST, FieldRule, Kind

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_NOTE = (
    "Necessary, not sufficient: a record that satisfies this schema can still be refused by a rule across fields, "
    "by a name the garden does not know, or by what else is known of the plant's life."
)
_ON_THE_DAY = r"\d{4}-\d{2}-\d{2}"
_UNIT = r"\d{4}(-\d{2}(-\d{2})?)?~?"
_LABEL = {
    "type": "string",
    "minLength": 1,
    "maxLength": _LONGEST["label"],
    "pattern": r"^[^\s/,]([^/,\n\r\t]*[^\s/,])?$",
}


def schema_of(cls: type[Record]) -> dict[str, Any]:
    """The JSON Schema (2020-12) of one record class, as a JSON-ready dict.

    A unit stands under ``x-unit`` beside the description of its field.
    """
    event = event_of(cls)
    defaults = {attribute.name: attribute.default for attribute in attrs.fields(cls)}
    properties = {name: _property(rule, defaults[name]) for name, rule in rules_of(cls).items()}
    required = [name for name in properties if defaults[name] is attrs.NOTHING]
    schema: dict[str, Any] = {
        "$schema": DIALECT,
        "$id": f"urn:perennia:event:{event}",
        "$comment": _NOTE,
        "title": cls.__name__,
        "description": inspect.getdoc(cls) or "",
        "type": "object",
        "properties": {TAG: {"const": event}, **properties},
        "required": [TAG, *required],
        "additionalProperties": False,
    }
    if cls.rules:
        schema["x-rules"] = [{"number": rule.number, "wrong": rule.wrong, "remedy": rule.remedy} for rule in cls.rules]
    return schema


def write_schemas(folder: Path) -> list[Path]:
    """Write every event's schema into folder, which is made if need be, and return the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for event, cls in RECORDS.items():
        path = folder / f"{event}.schema.json"
        path.write_text(schema_text(cls), encoding="utf-8")
        written.append(path)
    return written


def schema_text(cls: type[Record]) -> str:
    """The schema of a class as it stands in its file."""
    return json.dumps(schema_of(cls), indent=2, ensure_ascii=False) + "\n"


def _property(rule: FieldRule, default: object) -> dict[str, Any]:
    described: dict[str, Any] = {"description": rule.meaning}
    if rule.unit:
        described["x-unit"] = rule.unit
    if default is not attrs.NOTHING and default is not None:
        described["default"] = default
    values = {"enum": list(rule.choices)} if rule.choices else _KINDS[rule.kind](rule)
    if rule.required:
        return described | values
    return described | {"anyOf": [values, {"type": "null"}]}


def _number(rule: FieldRule) -> dict[str, Any]:
    schema: dict[str, Any] = {"type": "integer" if rule.kind == "whole" else "number"}
    if rule.minimum is not None:
        schema["minimum"] = rule.minimum
    if rule.maximum is not None:
        schema["maximum"] = rule.maximum
    return schema


def _text(rule: FieldRule) -> dict[str, Any]:
    return {"type": "string", "maxLength": _LONGEST["text"], "pattern": r"\S"}


def _label(rule: FieldRule) -> dict[str, Any]:
    return dict(_LABEL)


def _labels(rule: FieldRule) -> dict[str, Any]:
    return {"type": "array", "items": dict(_LABEL), "minItems": 1, "uniqueItems": True}


def _flag(rule: FieldRule) -> dict[str, Any]:
    return {"type": "boolean"}


def _day(rule: FieldRule) -> dict[str, Any]:
    return {"type": "string", "format": "date", "pattern": f"^{_ON_THE_DAY}$"}


def _span(rule: FieldRule) -> dict[str, Any]:
    return {
        "type": "string",
        "pattern": rf"^({_UNIT}|(\.\.|{_UNIT})?/{_UNIT})$",
        "examples": ["2024-07-15", "2024-07", "2024-07~", "2024-07-02/2024-07-09", "../2018"],
    }


_KINDS: dict[Kind, Callable[[FieldRule], dict[str, Any]]] = {
    "text": _text,
    "label": _label,
    "labels": _labels,
    "number": _number,
    "whole": _number,
    "flag": _flag,
    "day": _day,
    "span": _span,
}


def _main() -> None:
    parser = argparse.ArgumentParser(prog="python -m perennia.records.schemas", description="Write the JSON Schemas.")
    parser.add_argument("folder", nargs="?", type=Path, default=Path("schemas"))
    folder: Path = parser.parse_args().folder
    print(f"{len(write_schemas(folder))} schemas written to {folder}")


if __name__ == "__main__":
    _main()
