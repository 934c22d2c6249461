"""Which field each heading of a sheet stands for, and in which unit its cells are written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches

import attrs

from perennia.errors import ArgumentError, IntakeError
from perennia.intake.sheets import Sheet
from perennia.records.catalogue import RECORDS, rules_of

EVENT, RECORD_ID = "event", "record_id"
BECAUSE, FROM_SHEET, FROM_ROW = "set aside because", "set aside from", "set aside row"
"""Headings of a file of rows set aside; they are not read as cells."""

FIELDS: tuple[str, ...] = tuple(dict.fromkeys(name for cls in RECORDS.values() for name in rules_of(cls)))
_SHOWN = 20
_IN_BRACKETS = re.compile(r"(.*\S)\s*[(\[]\s*([^()\[\]]+?)\s*[)\]]")


@attrs.frozen
class Column:
    """One column of a sheet: its place, its heading, the field it holds, and its unit where one is said."""

    place: int
    heading: str
    field: str
    unit: str | None


def plain(name: str) -> str:
    """A name as fields and events are written: small letters, joined by underscores."""
    return re.sub(r"[\s_-]+", "_", name.strip().lower())


def event_named(name: str) -> str | None:
    """The one event that the name of a sheet or file stands for, if it does: ``Picked``, ``Weather``, ``Beds``."""
    asked = plain(name)
    if asked in RECORDS:
        return asked
    family = [event for event, cls in RECORDS.items() if cls.table == asked]
    return family[0] if len(family) == 1 else None


def columns_of(
    sheets: Sequence[Sheet], columns: Mapping[str, str | None] | None, units: Mapping[str, str] | None
) -> list[list[Column]]:
    """The columns of each sheet; headings that columns maps to None are left out.

    A heading is a field's name in any capitals, with spaces or underscores, and may end with its unit in brackets.
    columns says what other headings hold; units, by field or heading, in which unit. Raises IntakeError naming every
    heading that is no field, stands twice, or is asked for and not there.
    """
    mapped = _mapping(columns, "columns")
    units_said = _mapping(units, "units")
    used: set[str] = set()
    told: list[str] = []
    found = []
    for sheet in sheets:
        own = []
        for place, heading in enumerate(sheet.headings):
            column = _column(sheet, place, heading, mapped, units_said, used, told)
            if column is not None:
                own.append(column)
        told += _twice(sheet, own)
        found.append(own)
    told += [f"no sheet has a column {key!r}, which columns or units speaks of" for key in sorted(
        {*mapped, *units_said} - used
    )]  # fmt: skip
    if told:
        more = [f"and {len(told) - _SHOWN} more such headings"] if len(told) > _SHOWN else []
        raise IntakeError("; ".join(told[:_SHOWN] + more))
    return found


def _mapping(given: Mapping[str, str | None] | None, what: str) -> dict[str, str | None]:
    if given is None:
        return {}
    if not isinstance(given, Mapping) or not all(isinstance(key, str) for key in given):
        raise ArgumentError(f"{what} is {given!r}; give a dict such as {{'Weight': 'grams'}}")
    for value in given.values():
        if value is None and what == "columns":
            continue
        if not isinstance(value, str) or (what == "columns" and plain(value) not in (*FIELDS, EVENT, RECORD_ID)):
            raise ArgumentError(
                f"{what} has {value!r}, which is no {'field' if what == 'columns' else 'unit'}"
                f"{_near(str(value), FIELDS) if what == 'columns' else ''}"
            )
    return {key.strip(): value for key, value in given.items()}


def _column(
    sheet: Sheet, place: int, heading: str, mapped: Mapping[str, str | None], units: Mapping[str, str | None],
    used: set[str], told: list[str],
) -> Column | None:  # fmt: skip
    name = heading.strip()
    if name.lower() in (BECAUSE, FROM_SHEET, FROM_ROW):
        return None
    bracketed = _IN_BRACKETS.fullmatch(name)
    stem, unit = (bracketed[1], bracketed[2]) if bracketed else (name, None)
    field: str | None
    if name in mapped or stem in mapped:
        key = name if name in mapped else stem
        used.add(key)
        field = mapped[key]
        if field is None:
            return None
        field = plain(field)
    else:
        field = plain(stem) if plain(stem) in (*FIELDS, EVENT, RECORD_ID) else None
    if field is None:
        told.append(_unknown(sheet, place, name))
        return None
    for key in {name, stem, field} & set(units):
        used.add(key)
        if unit is not None and plain(unit) != plain(str(units[key])):
            told.append(f"{sheet.told} has the heading {name!r}, but units says {units[key]!r}")
        unit = units[key]
    return Column(place, name, field, unit)


def _unknown(sheet: Sheet, place: int, name: str) -> str:
    if not name:
        return f"{sheet.told} has no heading over column {place + 1}; write one"
    return (
        f"{sheet.told} has a column {name!r}, which is no field{_near(plain(name), FIELDS)}; "
        f"say what it holds with columns={{{name!r}: FIELD}} (--column '{name}=FIELD'), "
        f"or leave it out with columns={{{name!r}: None}} (--column '{name}=')"
    )


def _near(name: str, known: Iterable[str]) -> str:
    close = get_close_matches(name, list(known), n=3, cutoff=0.6)
    return f" (near it: {', '.join(close)})" if close else ""


def _twice(sheet: Sheet, own: Sequence[Column]) -> list[str]:
    fields = [column.field for column in own]
    return [
        f"{sheet.told} has several columns for {field}: "
        f"{', '.join(column.heading for column in own if column.field == field)}; keep one, or map the others to None"
        for field in dict.fromkeys(fields)
        if fields.count(field) > 1
    ]
