"""Do several kinds of stock, or several seasons of the same plants, differ at all?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from perennia.analysis.layout import FACTORS, level_of
from perennia.analysis.linked import linked_plants
from perennia.analysis.measures import Measure, number, probability
from perennia.analysis.places import changed_place
from perennia.analysis.selection import picked_out
from perennia.analysis.several import several_groups
from perennia.analysis.units import Row, Unit, unit_from
from perennia.analysis.values import calendar_day

OVERALL = {
    "crop": "string", "seasons": "string", "measure": "string", "groups": "string", "n": "Int64",
    "statistic": "Float64", "freedom": "Int64", "p": "Float64", "smallest_p": "Float64", "order": "string",
}  # fmt: skip
"""Columns of an overall table; one row a crop, season (or all of them) and measure in which three groups or more could
be held against each other at once. seasons: those it is of. groups: each with its units, n in all. statistic, freedom,
p, smallest_p: see several.SeveralGroups. order: the groups by their mean rank, the lowest first."""

_FEWEST_GROUPS, _FEWEST_PLANTS = 3, 2


def stock_overall(units: Sequence[Unit], measure: Measure, beds_alike: frozenset[str]) -> dict[str, object] | None:
    """All kinds of stock of one crop and season within cultivar, cover and bed, or None if fewer than three met."""
    usable = [
        unit for unit in units
        if unit.stock is not None and unit.grew and unit.value is not None and unit.bed is not None
        and (measure.while_running or not unit.running)
    ]  # fmt: skip
    strata: dict[tuple[str, ...], list[Unit]] = {}
    for unit in usable:
        strata.setdefault(tuple(level_of(unit, factor, beds_alike) for factor in FACTORS), []).append(unit)
    shared = [stratum for stratum in strata.values() if len({unit.stock for unit in stratum}) > 1]
    kinds = sorted({str(unit.stock) for stratum in shared for unit in stratum})
    if len(kinds) < _FEWEST_GROUPS:
        return None
    blocks = [
        [[unit.known_value for unit in stratum if unit.stock == kind] for kind in kinds] for stratum in shared
    ]  # fmt: skip
    first = shared[0][0]
    return _row(first.crop, first.season_name, measure, kinds, blocks)


def seasons_overall(rows: Sequence[Row], crop: str, measure: Measure) -> dict[str, object] | None:
    """The first seasons of the same plants in place, as many as two plants have; None if fewer than three.

    None too where some were picked out by how they had done in one of them, for these fall back in all others.
    """
    by_plant: dict[str, dict[int, Row]] = {}
    for row in rows:
        if row["plant_season"] is not None and row["grew"] is True and row["finished"] is True:
            by_plant.setdefault(str(row["plant"]), {})[int(row["plant_season"])] = row
    for last in range(max((max(seasons) for seasons in by_plant.values()), default=0), _FEWEST_GROUPS - 1, -1):
        blocks = _complete(by_plant, last, measure)
        if len(blocks) >= _FEWEST_PLANTS and not _picked_out(rows, last, measure):
            years = sorted({str(row["season_name"]) for seasons in by_plant.values() for row in seasons.values()})
            names = [f"plant season {season}" for season in range(1, last + 1)]
            return _row(crop, f"{years[0]} to {years[-1]}", measure, names, blocks)
    return None


def _picked_out(rows: Sequence[Row], last: int, measure: Measure) -> bool:
    """Whether the plants carried on from any season before the last had differed in it from those that were not."""
    latest: dict[object, int] = {}
    for row in rows:
        latest[row["site"]] = max(latest.get(row["site"], 0), int(row["season"]))
    grew = {(row["plant"], row["plant_season"]): row for row in rows if row["grew"] is True}
    for season in range(1, last):
        sides: tuple[list[float], list[float]] = ([], [])
        for (plant, of), row in grew.items():
            value = unit_from([row], measure, calendar_day).value if of == season else None
            if value is not None and math.isfinite(value) and int(row["season"]) < latest[row["site"]]:
                sides[(plant, season + 1) not in grew].append(value)
        if picked_out(*sides) is not None:
            return True
    return False


def _complete(by_plant: Mapping[str, Mapping[int, Row]], last: int, measure: Measure) -> list[list[list[float]]]:
    """The values of units that kept their place through all their first seasons."""
    wanted = range(1, last + 1)
    full = {plant: [rows[season] for season in wanted] for plant, rows in by_plant.items() if {*wanted} <= {*rows}}
    blocks: list[list[list[float]]] = []
    for group in linked_plants([row for rows in full.values() for row in rows]):
        if any(changed_place([(full[plant][0], row)]) for plant in group for row in full[plant][1:]):
            continue
        values = [
            unit_from([full[plant][place] for plant in group], measure, calendar_day).value
            for place in range(last)
        ]  # fmt: skip
        known = [[value] for value in values if value is not None]
        if len(known) == last:
            blocks.append(known)
    return blocks


def _row(
    crop: str, seasons: str, measure: Measure, names: Sequence[str], blocks: Sequence[Sequence[Sequence[float]]]
) -> dict[str, object] | None:
    found = several_groups(blocks)
    if found is None:
        return None
    sizes = Counter(dict(zip(names, found.n, strict=True)))
    by_rank = sorted(zip(found.mean_ranks, names, strict=True))
    return {
        "crop": crop, "seasons": seasons, "measure": measure.name,
        "groups": ", ".join(f"{name} ({sizes[name]})" for name in names), "n": sum(found.n),
        "statistic": found.statistic, "freedom": found.freedom, "p": found.p, "smallest_p": found.smallest_p,
        "order": " < ".join(name for _, name in by_rank),
    }  # fmt: skip


def overall_finding(row: Mapping[str, object]) -> str:
    """One row as a sentence."""
    return (
        f"{row['crop']} {row['seasons']}, {row['measure']}, all at once: {row['groups']}; chi-square "
        f"{number(float(str(row['statistic'])))} on {row['freedom']} degrees of freedom, p "
        f"{probability(float(str(row['p'])))} as if randomised (smallest this layout could give "
        f"{probability(float(str(row['smallest_p'])))}); by mean rank {row['order']}. Lines of two tell how far."
    )
