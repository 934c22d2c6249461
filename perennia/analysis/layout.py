"""Which units of two arms may be held against each other, and what stands in the way."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.permutation import Floats
from perennia.analysis.result import framed
from perennia.analysis.units import NOT_RECORDED, TOGETHER, Unit, water_classes

Arms = tuple[str, str]
FACTORS = ("cultivar", "cover", "bed")
NO_BLOCKS: Mapping[str, str] = {}

OVERLAP = {
    "crop": "string", "season": "Int64", "factor": "string", "level": "string", "arm": "Int64", "against": "Int64",
}  # fmt: skip
"""Columns of an overlap table: one row a crop, season, factor and level of it; arm and against count units."""


@attrs.frozen(eq=False)
class Layout:
    """Units of two arms sorted into strata.

    strata: values of (arm, against) where a stratum holds both. alone: units in strata of one arm, left out.
    unplaced: units whose bed is not on record, left out. confounded_with: what the arms share no level of; empty if
    they can be compared. tested: the units of arm and against that stand in the strata.
    """

    strata: tuple[tuple[Floats, Floats], ...]
    alone: int
    unplaced: int
    confounded_with: tuple[str, ...]
    tested: tuple[tuple[Unit, ...], tuple[Unit, ...]] = ((), ())


def lay_out(
    arm: Sequence[Unit], against: Sequence[Unit], beds_alike: frozenset[str], blocks: Mapping[str, str] = NO_BLOCKS
) -> Layout:
    """Strata of season, cultivar, cover and bed (beds declared alike are one); units must have a value.

    blocks: by name of a unit, the block of a trial within which its arm was drawn, which parts the strata further.
    """
    sides = [[unit for unit in side if unit.bed is not None] for side in (arm, against)]
    unplaced = len(arm) + len(against) - sum(len(side) for side in sides)
    if not sides[0] or not sides[1]:
        return Layout((), 0, unplaced, ("bed (not recorded)",) if arm and against else ())
    apart = tuple(
        factor
        for factor in FACTORS
        if _levels(sides[0], factor, beds_alike).isdisjoint(_levels(sides[1], factor, beds_alike))
    )
    if apart:
        return Layout((), 0, unplaced, apart)
    grouped: dict[tuple[str, ...], tuple[list[Unit], list[Unit]]] = {}
    for place, side in enumerate(sides):
        for unit in side:
            levels = (level_of(unit, factor, beds_alike) for factor in FACTORS)
            key = (str(unit.season), *levels, blocks.get(unit.name, ""))
            grouped.setdefault(key, ([], []))[place].append(unit)
    shared = [grouped[key] for key in sorted(grouped) if all(grouped[key])]
    alone = sum(len(x) + len(y) for x, y in grouped.values() if not (x and y))
    return Layout(
        tuple((_values(x), _values(y)) for x, y in shared), alone, unplaced,
        () if shared else ("season, cultivar, cover and bed taken together",),
        (tuple(unit for x, _ in shared for unit in x), tuple(unit for _, y in shared for unit in y)),
    )  # fmt: skip


def _values(units: Sequence[Unit]) -> Floats:
    return np.array([unit.known_value for unit in units])


def level_of(unit: Unit, factor: str, beds_alike: frozenset[str]) -> str:
    """The level of a factor a unit has; a bed is told apart by its site, unless it is declared alike to others."""
    if factor == "bed":
        if beds_alike.issuperset(str(unit.bed).split(TOGETHER)):
            return " = ".join(sorted(beds_alike))
        return f"{unit.bed} ({unit.site})" if unit.site else str(unit.bed)
    value = getattr(unit, factor)
    return NOT_RECORDED if value is None else str(value)


def _levels(units: Sequence[Unit], factor: str, beds_alike: frozenset[str]) -> set[str]:
    return {level_of(unit, factor, beds_alike) for unit in units}


def overlap(arm: Sequence[Unit], against: Sequence[Unit], crop: str, season: int | None) -> pd.DataFrame:
    """Units of each arm by bed, site, cover, cultivar, month of planting, space and water: what backs confounding."""
    rows: list[dict[str, object]] = []
    water = water_classes([*arm, *against])
    for factor, attribute in (
        ("bed", "bed"), ("site", "site"), ("cover", "cover"), ("cultivar", "cultivar"),
        ("planting month", "planted_on"), ("space a plant, m2", "space_m2"),
        ("water given", None),
    ):  # fmt: skip
        counts: dict[str, list[int]] = {}
        for place, side in enumerate((arm, against)):
            for unit in side:
                value = water[unit.name] if attribute is None else getattr(unit, attribute)
                counts.setdefault(NOT_RECORDED if value is None else str(value), [0, 0])[place] += 1
        rows += [
            {"crop": crop, "season": season, "factor": factor, "level": level, "arm": a, "against": b}
            for level, (a, b) in sorted(counts.items(), key=lambda item: _by_number(item[0]))
        ]
    return framed(rows, OVERLAP)


def _by_number(level: str) -> tuple[float, str]:
    """Classes in the order of their first number, names in that of the alphabet after them."""
    number = re.match(r"(?:over )?(\d+(?:\.\d+)?)", level)
    return (float(number[1]) if number else math.inf, level)


def told_apart(counts: pd.DataFrame, factor: str) -> str | None:
    """The levels of each arm in words if the arms share none of a factor, else None."""
    rows = counts[(counts["factor"] == factor) & (counts["level"] != NOT_RECORDED)]
    sides = [rows[rows[side] > 0] for side in ("arm", "against")]
    if any(side.empty for side in sides) or (rows["arm"].gt(0) & rows["against"].gt(0)).any():
        return None
    return " against ".join(
        ", ".join(f"{level} ({n})" for level, n in zip(side["level"], side[name], strict=True))
        for side, name in zip(sides, ("arm", "against"), strict=True)
    )


def nothing_shared(counts: pd.DataFrame, factors: Sequence[str], arms: Arms) -> list[str]:
    """Words for each of these factors that the arms share no level of, with the counts that show it."""
    apart = [(factor, told_apart(counts, factor)) for factor in factors]
    return [
        f"the arms share no {factor} ({arms[0]} against {arms[1]}: {levels}), which may be part of it"
        for factor, levels in apart
        if levels is not None
    ]


def place_lost(
    lost: Sequence[Unit], survivors: Sequence[Unit], beds_alike: frozenset[str] = frozenset()
) -> list[Unit] | None:
    """Lost roots set where the living of their season and cultivar stood, or None if that is not one place; beds
    declared alike are one.

    A root that died in store never had a bed; it can be counted in a stratum only if all its fellows share one.
    """
    placed: list[Unit] = []
    for unit in lost:
        if unit.settled and unit.bed is not None:
            placed.append(unit)
            continue
        fellows = {
            (level_of(other, "bed", beds_alike), other.cover): other
            for other in survivors
            if (other.season, other.cultivar, other.stock) == (unit.season, unit.cultivar, unit.stock)
        }
        if len(fellows) != 1:
            return None
        fellow = next(iter(fellows.values()))
        placed.append(attrs.evolve(unit, site=fellow.site, bed=fellow.bed, cover=fellow.cover))
    return placed
