"""Units at intake: exact, named apart, never taken for another measure."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import IntakeError
from perennia.intake.units import Unit, unit_of, units_for
from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.fields import FieldRule

GRAMS, LITRES, DEPTH = FieldRule("number", "", "g"), FieldRule("number", "", "l"), FieldRule("number", "", "mm")
WARMTH, BARE = FieldRule("number", "", "deg C"), FieldRule("whole", "")


@pytest.mark.parametrize(
    ("written", "unit", "rule", "kept"),
    [
        # NIST Special Publication 811 (2008), appendix B.8: exact factors in bold
        ("1", "lb", GRAMS, 453.59237),
        ("1", "oz", GRAMS, 28.349523125),
        ("1", "inches", DEPTH, 25.4),
        ("1", "US gallons", LITRES, 3.785411784),
        ("212", "F", WARMTH, 100.0),
        ("32", "F", WARMTH, 0.0),
        ("-40", "F", WARMTH, -40.0),
        # Units of Measurement Regulations 1995 (United Kingdom), schedule: 4.54609 cubic decimetres
        ("1", "imperial gallons", LITRES, 4.54609),
        ("0.57", "kg", GRAMS, 570.0),
        ("1.1", "kg", GRAMS, 1100.0),
        ("7", "litre", LITRES, 7.0),
    ],
)
def test_amounts_are_exact(written: str, unit: str, rule: FieldRule, kept: float) -> None:
    assert unit_of(unit, rule).amount(Decimal(written)) == kept


@given(st.decimals("0", "100000", places=3))
def test_sixteen_ounces_are_a_pound(amount: Decimal) -> None:
    assert unit_of("oz", GRAMS).amount(amount * 16) == unit_of("lb", GRAMS).amount(amount)
    assert unit_of("kg", GRAMS).amount(amount) == float(Fraction(amount) * 1000)


@pytest.mark.parametrize("name", ["kg", " KG. ", "kilograms", "Kilo"])
def test_a_unit_has_several_spellings(name: str) -> None:
    assert unit_of(name, GRAMS).factor == 1000


@pytest.mark.parametrize(
    ("name", "rule", "message"),
    [
        ("gallon", LITRES, "'gallon' can be US or imperial; write US gallons or imperial gallons"),
        ("kg", LITRES, "'kg' is no unit this can be written in; write litres or US gallons or imperial gallons"),
        ("stone", GRAMS, "'stone' is no unit this can be written in; write g or kg or oz or lb"),
        ("kg", BARE, "'kg' is given as a unit of something that has none"),
    ],
)
def test_what_is_no_unit_of_it_is_told(name: str, rule: FieldRule, message: str) -> None:
    with pytest.raises(IntakeError, match=message):
        unit_of(name, rule)


def test_every_unit_of_the_records_is_one_at_intake() -> None:
    rules = [rule for cls in RECORDS.values() for rule in rules_of(cls).values() if rule.unit and rule.kind == "number"]
    assert len(rules) > 20
    for rule in rules:
        assert unit_of(rule.unit, rule).is_kept, rule.unit
        assert all(isinstance(unit, Unit) for unit in units_for(rule))
