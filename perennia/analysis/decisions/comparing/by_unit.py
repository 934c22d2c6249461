"""The units behind a comparison, one by one: their values and the stratum each stands in, to be looked at and drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from perennia.analysis.layout import FACTORS, level_of
from perennia.analysis.units import Unit

if TYPE_CHECKING:
    from perennia.analysis.decisions.comparing.fresh_change import FreshPlace
    from perennia.analysis.decisions.comparing.pairs import Pair

STOCK_UNITS = {
    "crop": "string", "seasons": "string", "basis": "string", "measure": "string", "unit": "string",
    "season": "Int64", "season_name": "string", "stock": "string", "stratum": "string", "value": "Float64",
    "never_cropped": "boolean", "running": "boolean", "tested": "boolean",
}  # fmt: skip
"""Columns of StockComparison.by_unit; one row a unit of an answer, which crop, seasons, basis and measure name.

stock: its arm. stratum: cultivar, cover and bed, and the block where a lot was drawn within blocks; missing without a
bed on record. value: in the measure, a day counted from 1 January of the season's year; missing where never_cropped.
running: its season is not over. tested: it stands in a stratum that holds both arms, and there was a test.
"""
PAIR_UNITS = {
    "crop": "string", "plant_season": "Int64", "basis": "string", "measure": "string", "unit": "string",
    "first_season": "string", "later_season": "string", "first": "Float64", "later": "Float64", "changed": "string",
    "lost": "boolean",
}  # fmt: skip
"""Columns of SeasonComparison.by_unit; one row a pair of an answer, which crop, plant_season, basis and measure name.

first, later: values of both seasons, first_season and later_season, a day counted from 1 January without leap days;
missing where it never cropped. changed: what of its place changed, which keeps it out of the test. lost: a root put by
that did not come through.
"""
CHANGE_UNITS = {
    "crop": "string", "plant_season": "Int64", "first_season": "string", "later_season": "string", "measure": "string",
    "unit": "string", "stock": "string", "place": "string", "first": "Float64", "later": "Float64",
}  # fmt: skip
"""Columns of ChangeComparison.by_unit; one row a root with its two values, or a fresh unit with the one of its season.

It is of the answer that crop, plant_season, first_season, later_season and measure name. first, later: its values.
stock: roots or fresh. place: cultivar, cover and bed. unit is missing for fresh units, which are others in each season.
"""


def stock_unit_rows(
    named: Mapping[str, object], units: Iterable[Unit], tested: Iterable[Unit], beds_alike: frozenset[str],
    blocks: Mapping[str, str],
) -> list[dict[str, object]]:  # fmt: skip
    """Rows of STOCK_UNITS. named: crop, seasons, basis and measure of the answer."""
    sure = {(unit.season, unit.name) for unit in tested}
    return [
        {
            **{name: named[name] for name in ("crop", "seasons", "basis", "measure")},
            "unit": unit.name, "season": unit.season, "season_name": unit.season_name, "stock": unit.stock,
            "stratum": _stratum(unit, beds_alike, blocks), "value": _finite(unit.known_value),
            "never_cropped": math.isinf(unit.known_value), "running": unit.running,
            "tested": (unit.season, unit.name) in sure,
        }
        for unit in units
    ]  # fmt: skip


def pair_unit_rows(named: Mapping[str, object], pairs: Iterable[Pair]) -> list[dict[str, object]]:
    """Rows of PAIR_UNITS. named: crop, plant_season, basis and measure of the answer."""
    return [
        {
            **{name: named[name] for name in ("crop", "plant_season", "basis", "measure")},
            "unit": pair.first.name, "first_season": pair.first.season_name, "later_season": pair.later.season_name,
            "first": _finite(pair.first.known_value), "later": _finite(pair.later.known_value),
            "changed": ", ".join(pair.changed) or None, "lost": pair.later.lost,
        }
        for pair in pairs
    ]  # fmt: skip


def change_unit_rows(
    named: Mapping[str, object], pairs: Sequence[Pair], places: Mapping[str, FreshPlace]
) -> list[dict[str, object]]:
    """Rows of CHANGE_UNITS. named: crop, plant_season, first_season, later_season and measure of the answer."""
    shared = {name: named[name] for name in ("crop", "plant_season", "first_season", "later_season", "measure")}
    roots = [
        {**shared, "unit": pair.first.name, "stock": "roots", "place": place_of(pair.later), "first": pair.values[1],
         "later": pair.values[0]}
        for pair in pairs
    ]  # fmt: skip
    fresh = [
        {**shared, "unit": None, "stock": "fresh", "place": name, "first": first, "later": later}
        for name, place in places.items()
        for first, later in (*((value, None) for value in place.first), *((None, value) for value in place.later))
    ]
    return [*roots, *fresh]


def place_of(unit: Unit, beds_alike: frozenset[str] = frozenset()) -> str:
    """Cultivar, cover and bed in words."""
    return ", ".join(level_of(unit, factor, beds_alike) for factor in FACTORS)


def _stratum(unit: Unit, beds_alike: frozenset[str], blocks: Mapping[str, str]) -> str | None:
    if unit.bed is None:
        return None
    block = blocks.get(unit.name)
    return place_of(unit, beds_alike) + (f", block {block}" if block else "")


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
