"""Units a grower writes, turned exactly into those the records are kept in.

One avoirdupois pound is 0.45359237 kg, one ounce its sixteenth, one inch 2.54 cm, one US liquid gallon 231 cubic
inches (NIST Special Publication 811, 2008, appendix B); one imperial gallon is 4.54609 litres (Units of Measurement
Regulations 1995, United Kingdom).
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction

import attrs

from perennia.errors import IntakeError
from perennia.records.fields import FieldRule


@attrs.frozen
class Unit:
    """A unit written at intake: kept = (written + shift) x factor, in the unit named kept (a FieldRule's)."""

    name: str
    kept: str
    factor: Fraction
    shift: Fraction = Fraction(0)

    @property
    def is_kept(self) -> bool:
        """Whether amounts stay as they are."""
        return self.factor == 1 and self.shift == 0

    def amount(self, written: Decimal) -> float:
        """The amount in the unit kept, rounded once; beyond what a number can hold it is infinite."""
        try:
            return float((Fraction(written) + self.shift) * self.factor)
        except OverflowError:
            return math.inf


_INCH_MM = Fraction("25.4")
_POUND_G = Fraction("453.59237")
_UNITS = (
    (Unit("g", "g", Fraction(1)), ("g", "gram", "grams")),
    (Unit("kg", "g", Fraction(1000)), ("kg", "kilogram", "kilograms", "kilo", "kilos")),
    (Unit("oz", "g", _POUND_G / 16), ("oz", "ounce", "ounces")),
    (Unit("lb", "g", _POUND_G), ("lb", "lbs", "pound", "pounds")),
    (Unit("litres", "l", Fraction(1)), ("l", "litre", "litres", "liter", "liters")),
    (
        Unit("US gallons", "l", 231 * _INCH_MM**3 / 10**6),
        ("us gallon", "us gallons", "gallon us", "gallons us", "us gal", "gal us"),
    ),
    (
        Unit("imperial gallons", "l", Fraction("4.54609")),
        ("imperial gallon", "imperial gallons", "gallon imperial", "gallons imperial", "imp gal", "uk gallons"),
    ),
    (Unit("mm", "mm", Fraction(1)), ("mm", "millimetre", "millimetres", "millimeters")),
    (Unit("inches", "mm", _INCH_MM), ("in", "inch", "inches")),
    (Unit("%", "fraction", Fraction(1, 100)), ("%",)),
    (Unit("C", "deg C", Fraction(1)), ("c", "deg c", "degree c", "degrees c", "celsius")),
    (
        Unit("F", "deg C", Fraction(5, 9), Fraction(-32)),
        ("f", "deg f", "degree f", "degrees f", "fahrenheit"),
    ),
)  # fmt: skip
_BY_NAME = {name: unit for unit, names in _UNITS for name in names}
_GALLONS = ("gal", "gals", "gallon", "gallons")


def units_for(rule: FieldRule) -> tuple[Unit, ...]:
    """The units a field may be written in, the one it is kept in first; none where it is written as it is kept."""
    return tuple(unit for unit, _ in _UNITS if unit.kept == rule.unit and unit.kept != "fraction")


def unit_of(text: str, rule: FieldRule) -> Unit:
    """The unit a grower names for a field. Raises IntakeError when it is none, or measures something else."""
    plain = re.sub(r"[\s().°º]+", " ", text).strip().lower()
    known = [unit.name for unit in units_for(rule)] or ([rule.unit] if rule.unit else [])
    if plain in _GALLONS:
        raise IntakeError(f"{text!r} can be US or imperial; write US gallons or imperial gallons")
    if not known:
        raise IntakeError(f"{text!r} is given as a unit of something that has none")
    unit = _BY_NAME.get(plain)
    if unit is not None and unit.kept == rule.unit:
        return unit
    if plain == re.sub(r"[\s().°º]+", " ", rule.unit).strip().lower():
        return kept_unit(rule)
    raise IntakeError(f"{text!r} is no unit this can be written in; write {' or '.join(known)}")


def kept_unit(rule: FieldRule) -> Unit:
    """The unit in which a field is kept."""
    return Unit(rule.unit, rule.unit, Fraction(1))
