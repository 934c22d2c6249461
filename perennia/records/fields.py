"""What a field of a record may hold, declared once as attrs metadata.

The class validator, the column check, the Arrow schema and the JSON Schema all read the FieldRule
found here; nothing else states a range, a unit or a choice.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from typing import Any, Literal

import attrs

from perennia.errors import RecordError
from perennia.records.spans import Span, to_day_or_none, to_span

Kind = Literal["text", "label", "labels", "number", "whole", "flag", "day", "span"]
RULE = "perennia"
# a label is a name written on a stick: short, one line, and free of the stroke that addresses old lives (A1/2021)
_LONGEST = {"label": 60, "text": 2000}
# the last whole number up to which a float tells every two apart
_LARGEST = 2**53


@attrs.frozen
class FieldRule:
    """The rule of one field.

    kind names how it is kept; meaning is a short phrase; unit is empty for a pure number or text;
    minimum and maximum are inclusive; choices closes a text field.
    """

    kind: Kind
    meaning: str
    unit: str = ""
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    choices: tuple[str, ...] = ()

    def allowed(self) -> str:
        """What would be right, in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        if self.kind in ("number", "whole"):
            noun = "a whole number" if self.kind == "whole" else "a number"
            unit = f" of {self.unit}" if self.unit else ""
            if self.minimum is not None and self.maximum is not None:
                return f"{noun}{unit} from {self.minimum:g} to {self.maximum:g}"
            if self.minimum is not None:
                return f"{noun}{unit}, {self.minimum:g} or more"
            return f"{noun}{unit}"
        return {
            "label": "a name of 1 to 60 characters on one line, without / or comma",
            "labels": "one or more names, each of 1 to 60 characters on one line, without / or comma",
            "text": f"text of at most {_LONGEST['text']} characters",
            "flag": "true or false",
            "day": "a single day such as 2024-07-15",
            "span": "a day such as 2024-07-15 or a span such as 2024-07",
        }[self.kind]


def rule_of(attribute: attrs.Attribute[Any]) -> FieldRule:
    """The rule declared on an attrs field."""
    rule = attribute.metadata.get(RULE)
    if not isinstance(rule, FieldRule):
        raise TypeError(f"field {attribute.name} carries no FieldRule")
    return rule


def _meta(rule: FieldRule) -> dict[str, FieldRule]:
    return {RULE: rule}


def label(meaning: str, *, required: bool = True) -> dict[str, FieldRule]:
    """A grower's own name for a plant, bed, site, box or seed lot."""
    return _meta(FieldRule("label", meaning, required=required))


def labels(meaning: str, *, required: bool = True) -> dict[str, FieldRule]:
    """One or more names."""
    return _meta(FieldRule("labels", meaning, required=required))


def text(meaning: str, *, required: bool = False, choices: Iterable[str] = ()) -> dict[str, FieldRule]:
    """Free text, or one of choices."""
    return _meta(FieldRule("text", meaning, required=required, choices=tuple(choices)))


def number(
    meaning: str, unit: str, *, required: bool = False, minimum: float | None = 0, maximum: float | None = None
) -> dict[str, FieldRule]:
    """A real number in the unit given."""
    return _meta(FieldRule("number", meaning, unit, required, minimum, maximum))


def whole(
    meaning: str, unit: str = "", *, required: bool = False, minimum: float | None = 0, maximum: float | None = None
) -> dict[str, FieldRule]:
    """A whole number."""
    return _meta(FieldRule("whole", meaning, unit, required, minimum, maximum))


def flag(meaning: str, *, required: bool = False) -> dict[str, FieldRule]:
    """Yes or no."""
    return _meta(FieldRule("flag", meaning, required=required))


def day(meaning: str, *, required: bool = False) -> dict[str, FieldRule]:
    """One single day."""
    return _meta(FieldRule("day", meaning, required=required))


def span(meaning: str, *, required: bool = True) -> dict[str, FieldRule]:
    """A day or a span of days."""
    return _meta(FieldRule("span", meaning, required=required))


def to_labels(value: str | Iterable[str]) -> tuple[str, ...]:
    """One name or several as a tuple, in the order given."""
    if isinstance(value, str):
        return (value.strip(),)
    if not isinstance(value, Iterable):
        raise RecordError(f"{value!r} is not a list of labels")
    return tuple(item.strip() if isinstance(item, str) else item for item in value)


def to_labels_or_none(value: str | Iterable[str] | None) -> tuple[str, ...] | None:
    """Like to_labels, keeping None."""
    return None if value is None else to_labels(value)


def is_label(value: object) -> bool:
    """Whether value can be a label."""
    return (
        isinstance(value, str)
        and 0 < len(value) <= _LONGEST["label"]
        and value == value.strip()
        and value.isprintable()
        and not set("/,") & set(value)
    )


def fault(rule: FieldRule, value: object) -> str | None:
    """What is wrong with value under rule, as a phrase, or None. The one place that judges a value."""
    if value is None:
        return "is missing" if rule.required else None
    return _FAULTS[rule.kind](rule, value)


def _label_fault(rule: FieldRule, value: object) -> str | None:
    return None if is_label(value) else f"{value!r} is not a name"


def _labels_fault(rule: FieldRule, value: object) -> str | None:
    if not isinstance(value, tuple) or not value:
        return "names no label"
    wrong = [item for item in value if not is_label(item)]
    if wrong:
        return f"{wrong[0]!r} is not a name"
    if len(set(value)) < len(value):
        return "names a label twice"
    return None


def _text_fault(rule: FieldRule, value: object) -> str | None:
    if not isinstance(value, str):
        return f"{value!r} is not text"
    if rule.choices and value not in rule.choices:
        return f"{value!r} is not known"
    if len(value) > _LONGEST["text"] or "\0" in value or not value.strip():
        return "is empty, too long or not plain text"
    return None


def _number_fault(rule: FieldRule, value: object) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{value!r} is not a number"
    if abs(value) > _LARGEST:
        return "is too large"
    if not math.isfinite(value):
        return f"{value!r} is not a number"
    if rule.kind == "whole" and value != int(value):
        return f"{value!r} is not a whole number"
    if rule.minimum is not None and value < rule.minimum:
        return f"{value:g} is below {rule.minimum:g}"
    if rule.maximum is not None and value > rule.maximum:
        return f"{value:g} is above {rule.maximum:g}"
    return None


def _flag_fault(rule: FieldRule, value: object) -> str | None:
    return None if isinstance(value, bool) else f"{value!r} is neither true nor false"


def _day_fault(rule: FieldRule, value: object) -> str | None:
    return None if isinstance(value, date) else f"{value!r} is not a day"


def _span_fault(rule: FieldRule, value: object) -> str | None:
    return None if isinstance(value, Span) else f"{value!r} is not a span of days"


_FAULTS: dict[Kind, Callable[[FieldRule, object], str | None]] = {
    "label": _label_fault,
    "labels": _labels_fault,
    "text": _text_fault,
    "number": _number_fault,
    "whole": _number_fault,
    "flag": _flag_fault,
    "day": _day_fault,
    "span": _span_fault,
}


def enforce(cls: type, attributes: list[attrs.Attribute[Any]]) -> list[attrs.Attribute[Any]]:
    """attrs field_transformer: give every field the validator (and number converter) its rule asks for."""
    return [_enforced(attribute) for attribute in attributes]


def _enforced(attribute: attrs.Attribute[Any]) -> attrs.Attribute[Any]:
    rule = rule_of(attribute)
    converter: Any = attribute.converter
    if isinstance(converter, attrs.Converter):  # a field of the base class, which has seen to it
        return attribute
    if rule.kind in ("number", "whole") and converter is None:
        converter = _to_float if rule.kind == "number" else _to_whole
    named = None if converter is None else attrs.Converter(_naming(converter), takes_self=True, takes_field=True)
    return attribute.evolve(validator=_validate, converter=named)


def _naming(converter: Callable[[Any], Any]) -> Callable[[Any, Any, attrs.Attribute[Any]], Any]:
    """The converter, its errors naming the record and field."""

    def convert(value: Any, record: Any, attribute: attrs.Attribute[Any]) -> Any:
        try:
            return converter(value)
        except RecordError as error:
            raise RecordError(f"{type(record).__name__}, {attribute.name}: {error}") from error

    return convert


def _validate(record: Any, attribute: attrs.Attribute[Any], value: object) -> None:
    rule = rule_of(attribute)
    wrong = fault(rule, value)
    if wrong is not None:
        raise RecordError(f"{type(record).__name__}, {attribute.name}: {wrong}; it must be {rule.allowed()}")


def _to_float(value: Any) -> Any:
    # numpy scalars and ints become float; anything else, and what no float can hold, is left for the validator to name
    if not isinstance(value, numbers.Real | Decimal) or isinstance(value, bool):
        return value
    try:
        return float(value)
    except OverflowError:
        return value


def _to_whole(value: Any) -> Any:
    number = _to_float(value)
    if not isinstance(number, float) or not math.isfinite(number):
        return value
    return int(value) if int(value) == value else value


__all__ = [
    "FieldRule",
    "Kind",
    "day",
    "enforce",
    "fault",
    "flag",
    "is_label",
    "label",
    "labels",
    "number",
    "rule_of",
    "span",
    "text",
    "to_day_or_none",
    "to_labels",
    "to_labels_or_none",
    "to_span",
    "whole",
]
