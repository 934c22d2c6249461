"""Values that a field rule allows and values that it does not, and records made of allowed ones."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from types import SimpleNamespace
from typing import Any

import attrs
from hypothesis import strategies as st

from perennia.records.base import Record
from perennia.records.catalogue import rules_of
from perennia.records.fields import FieldRule
from perennia.records.rules import AtLeastOne, ExactlyOne, NotAfter, NotMoreThan, NotOwnDaughter, ZeroTogether
from perennia.records.spans import Span

LARGEST_NUMBER = 1e12
LARGEST_WHOLE = 10**9
DAYS = st.dates(date(1950, 1, 1), date(2100, 12, 31))
NAMES = st.text(st.characters(categories=["L", "N", "S"], include_characters="-._'() "), min_size=1, max_size=60).map(
    lambda name: name.strip() or "A1"
)
PROSE = st.text(
    st.characters(categories=["L", "N", "P", "S", "Zs"], include_characters="\n\t"), min_size=1, max_size=80
).map(lambda text: text if text.strip() else "seen")


@st.composite
def spans(draw: st.DrawFn) -> Span:
    """A day, a span, or a span whose start is open."""
    first, last = sorted((draw(DAYS), draw(DAYS)))
    return Span(draw(st.sampled_from([first, last, None])), last)


def good_values(rule: FieldRule) -> st.SearchStrategy[Any]:
    """Values the rule allows, None among them where the field may be missing."""
    given = st.sampled_from(rule.choices) if rule.choices else _GOOD[rule.kind](rule)
    return given if rule.required else st.none() | given


def bad_values(rule: FieldRule) -> list[Any]:
    """One value for each way in which a field can break the rule."""
    wrong = [*_BAD[rule.kind], *(["no such choice", rule.choices[0].upper() + "x"] if rule.choices else [])]
    if rule.minimum is not None:
        wrong += [rule.minimum - 1, float(rule.minimum) - 1e-6]
    if rule.maximum is not None:
        wrong += [rule.maximum + 1, float(rule.maximum) + 1e-6]
    return [*wrong, None] if rule.required else wrong


def bad_json_values(rule: FieldRule) -> list[Any]:
    """Those of bad_values that JSON can hold."""
    return [value for value in bad_values(rule) if not (isinstance(value, float) and not math.isfinite(value))]


@st.composite
def records_of(draw: st.DrawFn, cls: type[Record]) -> Any:
    """A record of a class with any allowed values, changed where they break a rule across fields."""
    values = draw(values_of(cls))
    return cls(**keeping_rules(cls, values, lambda rule: draw(good_values(attrs.evolve(rule, required=True)))))


def values_of(cls: type[Record]) -> st.SearchStrategy[dict[str, Any]]:
    """Allowed values for each field of a class; they may break its rules across fields."""
    return st.fixed_dictionaries({name: good_values(rule) for name, rule in rules_of(cls).items()})


def plain_record(cls: type[Record]) -> Any:
    """The same smallest record of a class on every call."""
    values = {name: _plain(rule) if rule.required else None for name, rule in rules_of(cls).items()}
    return cls(**keeping_rules(cls, values, _plain))


def keeping_rules(cls: type[Record], values: dict[str, Any], given: Callable[[FieldRule], Any]) -> dict[str, Any]:
    """The values, changed as little as makes the rules across fields hold; given makes a value where one is needed."""
    kept = dict(values)
    fields = rules_of(cls)
    for rule in cls.rules:
        match rule:
            case AtLeastOne((first, *_)) if all(kept[name] is None for name in rule.fields):
                kept[first] = given(fields[first])
            case ExactlyOne(first, second):
                if kept[first] is None and kept[second] is None:
                    kept[first] = given(fields[first])
                elif kept[first] is not None:
                    kept[second] = None
            case NotAfter(low, high) | NotMoreThan(low, high):
                _in_order(kept, fields, low, high)
            case ZeroTogether(first, second):
                if not rule.holds(SimpleNamespace(**kept)):
                    kept[second] = None
            case NotOwnDaughter():
                others = tuple(label for label in kept["into"] if label != kept["label"])
                kept["into"] = others or (f"{kept['label'][:50]}-2",)
    return kept


def _in_order(kept: dict[str, Any], fields: dict[str, FieldRule], low: str, high: str) -> None:
    if kept[low] is None or kept[high] is None or _least(kept[low]) <= _most(kept[high]):
        return
    if not fields[high].required:
        kept[high] = None
    elif not fields[low].required:
        kept[low] = None
    else:
        kept[low], kept[high] = kept[high], kept[low]


def _least(value: Any) -> Any:
    return (value.start or date.min) if isinstance(value, Span) else value


def _most(value: Any) -> Any:
    return value.end if isinstance(value, Span) else value


def _plain(rule: FieldRule) -> Any:
    if rule.choices:
        return rule.choices[0]
    if rule.kind in ("number", "whole"):
        return rule.minimum if rule.minimum else 1
    return _PLAIN[rule.kind]


def unruled(cls: type[Record], values: dict[str, Any]) -> Any:
    """A record of allowed values whose rules across fields were not asked."""
    record = object.__new__(cls)
    for name, value in values.items():
        object.__setattr__(record, name, value)
    return record


def _numbers(rule: FieldRule) -> st.SearchStrategy[float]:
    low = -LARGEST_NUMBER if rule.minimum is None else rule.minimum
    high = LARGEST_NUMBER if rule.maximum is None else rule.maximum
    return st.floats(low, high) | st.sampled_from([float(low), float(high)])


def _wholes(rule: FieldRule) -> st.SearchStrategy[int]:
    low = -LARGEST_WHOLE if rule.minimum is None else int(rule.minimum)
    return st.integers(low, LARGEST_WHOLE if rule.maximum is None else int(rule.maximum))


_GOOD = {
    "text": lambda rule: PROSE,
    "label": lambda rule: NAMES,
    "labels": lambda rule: st.lists(NAMES, min_size=1, max_size=4, unique=True).map(tuple),
    "number": _numbers,
    "whole": _wholes,
    "flag": lambda rule: st.booleans(),
    "day": lambda rule: DAYS,
    "span": lambda rule: spans(),
}
_PLAIN: dict[str, Any] = {
    "text": "seen",
    "label": "A1",
    "labels": ("B1",),
    "flag": False,
    "day": date(2024, 7, 15),
    "span": Span(date(2024, 7, 15), date(2024, 7, 15)),
}
_BAD: dict[str, list[Any]] = {
    "text": ["", " \n ", "x" * 2001, 5],
    "label": ["", " ", "A,1", "A/1", "x" * 61, "A\n1", 5, ["A1"]],
    "labels": [[], [""], ["A,1"], ["A1", "A/2"], ["A1", "A1"], ["x" * 61], [5], 5],
    "number": [float("nan"), float("inf"), -float("inf"), "3", True, [3.0]],
    "whole": [1.5, float("nan"), float("inf"), "3", True, [3]],
    "flag": ["yes", 1, 0, "true"],
    "day": ["2024-07", "2024-07-32", "15/07/2024", "2024-07-01/2024-07-03", "", 20240715],
    "span": ["yesterday", "15/07/2024", "2024-7-1", "July 2024", "", 2024],
}
