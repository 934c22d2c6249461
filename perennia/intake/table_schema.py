"""What the columns of an exported sheet hold, as Table Schema says it: each type, range and choice from the FieldRules.

Table Schema, version 1 (Frictionless Standards, published at specs.frictionlessdata.io/table-schema).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from perennia.intake.record_sheets import fields_of
from perennia.records.fields import FieldRule, Kind

_TYPES: dict[Kind, str] = {
    "text": "string", "label": "string", "labels": "string", "span": "string", "number": "number", "whole": "integer",
    "flag": "boolean", "day": "date",
}  # fmt: skip
_FORMS: dict[Kind, str] = {
    "labels": "several parted by commas",
    "span": "ISO 8601: a day, first/last day, or ../last day where the first is not known",
}


def table_schema(table: str, columns: Sequence[str]) -> dict[str, Any]:
    """The Table Schema of a sheet of the table with these columns. A field's unit stands in ``unit`` too."""
    fields = fields_of(table)
    events = list(dict.fromkeys(event for rules in fields.values() for event in rules))
    described = {
        "record_id": {
            "type": "string", "description": "the record's own id, 32 hexadecimal digits",
            "constraints": {"required": True, "unique": True, "pattern": "[0-9a-f]{32}"},
        },
        "event": {
            "type": "string", "description": "what happened",
            "constraints": {"required": True, "enum": events},
        },
        **{name: _field(rules, events) for name, rules in fields.items()},
    }  # fmt: skip
    return {
        "fields": [{"name": name, **described[name]} for name in columns],
        "missingValues": [""],
        "primaryKey": ["record_id"],
    }


def _field(rules: Mapping[str, FieldRule], events: Sequence[str]) -> dict[str, Any]:
    """One field; where the rules of several events differ, what all of them allow."""
    first = next(iter(rules.values()))
    field: dict[str, Any] = {"type": _TYPES[first.kind], "description": _description(rules)}
    if first.unit and len({rule.unit for rule in rules.values()}) == 1:
        field["unit"] = first.unit
    constraints = _constraints(list(rules.values()), in_every_event=len(rules) == len(events))
    return {**field, "constraints": constraints} if constraints else field


def _description(rules: Mapping[str, FieldRule]) -> str:
    said: dict[str, list[str]] = {}
    for event, rule in rules.items():
        said.setdefault(f"{rule.meaning}, {rule.unit}" if rule.unit else rule.meaning, []).append(event)
    if len(said) == 1:
        meaning = next(iter(said))
    else:
        meaning = "; ".join(f"{phrase} ({', '.join(events)})" for phrase, events in said.items())
    form = _FORMS.get(next(iter(rules.values())).kind)
    return f"{meaning} ({form})" if form else meaning


def _constraints(rules: Sequence[FieldRule], *, in_every_event: bool) -> dict[str, Any]:
    constraints: dict[str, Any] = {}
    if in_every_event and all(rule.required for rule in rules):
        constraints["required"] = True
    if all(rule.choices for rule in rules):
        constraints["enum"] = list(dict.fromkeys(choice for rule in rules for choice in rule.choices))
    for bound, widest in (("minimum", min), ("maximum", max)):
        limits = [getattr(rule, bound) for rule in rules]
        if None not in limits:
            limit = widest(limits)
            constraints[bound] = int(limit) if limit == int(limit) else limit
    return constraints
