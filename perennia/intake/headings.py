"""The headings of a grower's columns: a field's name, with its unit in round brackets where it can be another."""

from __future__ import annotations

from perennia.intake.units import units_for
from perennia.records.fields import FieldRule


def heading_of(name: str, rule: FieldRule) -> str:
    """The heading of a field's column: ``grams (g)``, ``t_min_c (C)``; the bare name where the unit is fixed."""
    units = units_for(rule)
    return f"{name} ({units[0].name})" if units else name


def other_units(rule: FieldRule) -> tuple[str, ...]:
    """The units that may stand in the heading's brackets instead; none where the unit is fixed."""
    return tuple(unit.name for unit in units_for(rule)[1:])
