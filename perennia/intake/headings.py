"""The headings of a grower's columns: a field's name, with its unit in round brackets where it can be another."""

from __future__ import annotations

from perennia.records.fields import FieldRule

# how a unit of the records is written in a heading, and what may stand there instead
_UNITS: dict[str, tuple[str, tuple[str, ...]]] = {
    "g": ("g", ("kg", "oz", "lb")),
    "l": ("litre", ("US gallons", "imperial gallons")),
    "mm": ("mm", ("inches",)),
    "deg C": ("C", ("F",)),
}


def heading_of(name: str, rule: FieldRule) -> str:
    """The heading of a field's column: ``grams (g)``, ``t_min_c (C)``; the bare name where the unit is fixed."""
    return f"{name} ({_UNITS[rule.unit][0]})" if rule.unit in _UNITS else name


def other_units(rule: FieldRule) -> tuple[str, ...]:
    """The units that may stand in the heading's brackets instead; none where the unit is fixed."""
    return _UNITS[rule.unit][1] if rule.unit in _UNITS else ()
