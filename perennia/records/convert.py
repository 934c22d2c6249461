"""The one place where records become plain data (JSON-ready dicts, tagged by event) and come back."""

from __future__ import annotations

from datetime import date
from typing import Any

import cattrs
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn

from perennia.errors import RecordError
from perennia.records.base import Record, event_of
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.records.spans import Span

TAG = "event"
_converter = cattrs.Converter(forbid_extra_keys=True)
_converter.register_unstructure_hook(Span, str)
_converter.register_unstructure_hook(date, date.isoformat)
# values are judged by the classes' own converters and validators, so structuring passes them on as they are
for _type in (Span, date, str, float, int, bool):
    _converter.register_structure_hook(_type, lambda value, _: value)
_converter.register_structure_hook_func(
    lambda kind: "tuple" in str(kind) or "None" in str(kind), lambda value, _: value
)
for _class in RECORDS.values():
    _converter.register_unstructure_hook(
        _class, make_dict_unstructure_fn(_class, _converter, _cattrs_omit_if_default=True)
    )
    _converter.register_structure_hook(_class, make_dict_structure_fn(_class, _converter))


def to_dict(record: Record) -> dict[str, Any]:
    """A record as a JSON-ready dict whose ``event`` names its class; fields at their default are left out."""
    return {TAG: event_of(type(record)), **_converter.unstructure(record)}


def from_dict(data: dict[str, Any]) -> Record:
    """The record a dict made by to_dict stands for.

    Raises RecordError when the event is unknown, a field is unknown or missing, or a value breaks its rule.
    """
    fields = dict(data)
    cls = class_of(fields.pop(TAG, None))
    known = rules_of(cls)
    unknown = [name for name in fields if name not in known]
    if unknown:
        raise RecordError(f"{event_of(cls)} has no field {', '.join(map(str, unknown))}; it has {', '.join(known)}")
    try:
        return _converter.structure(fields, cls)
    except cattrs.ClassValidationError as error:
        raise RecordError(f"{event_of(cls)}: {'; '.join(_causes(error))}") from error


def _causes(error: BaseException) -> list[str]:
    if isinstance(error, cattrs.BaseValidationError):
        return [cause for inner in error.exceptions for cause in _causes(inner)]
    if isinstance(error, KeyError):
        return [f"{error.args[0]} is missing"]
    return [str(error)]
