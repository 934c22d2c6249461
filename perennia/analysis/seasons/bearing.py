"""How do plants bear from year to year: do they alternate, change with age, and differ from one another lastingly?"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.measures import MEASURES, Measure, choose_measure, measures_named, own_measure
from perennia.analysis.name_order import ordered
from perennia.analysis.result import Result, framed
from perennia.analysis.seasons import ageing, repeatability
from perennia.analysis.seasons.alternation import Alternation, MeanAlternation, alternation
from perennia.analysis.seasons.bearing_wording import (
    age_finding,
    alternation_finding,
    bearing_cautions,
    repeatability_finding,
)
from perennia.analysis.seasons.histories import CropHistories, History, histories
from perennia.analysis.units import Row, rows_of
from perennia.analysis.unknown_names import unknown_names
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

_ROWS = "select * from season_summary where crop = coalesce(?, crop)"
_MEASURES = tuple(name for name, measure in MEASURES.items() if measure.kind in ("amount", "rate"))
_UNITS = (
    "a unit is a plant, or all the plants linked by a shared picking in any season, or a stand however many plants it "
    "has; total_g and count are taken a plant standing. Only seasons that are over count."
)
_METHOD = (
    "Alternation: mean over neighbouring seasons of their difference as a share of their sum (Hoblyn et al. 1936; "
    "Monselise and Goldschmidt 1982), held against the same seasons in other orders, all units shuffled alike. "
    "Age: a least-squares line through each unit's seasons, mean over units with a t interval (n - 1 degrees of "
    "freedom). Repeatability: variances between units and between seasons of a unit by REML, the mean of each season "
    "taken off, with the exact interval for normal values (Harville and Fenech 1985; the F interval where every unit "
    "has every season)."
)

COLUMNS = {
    "crop": "string", "unit": "string", "plants": "string", "measure": "string", "first_season": "string",
    "last_season": "string", "seasons": "Int64", "pairs": "Int64", "zero_pairs": "Int64", "breaks": "Int64",
    "without_value": "Int64", "mean_crop": "Float64", "index": "Float64", "chance": "Float64",
    "chance_low": "Float64", "chance_high": "Float64",
}  # fmt: skip
BY_CROP = {
    "crop": "string", "measure": "string", "n_units": "Int64", "index": "Float64", "chance": "Float64",
    "chance_low": "Float64", "chance_high": "Float64", "seasons": "Int64", "orders": "Int64", "listed": "boolean",
    "tellable": "boolean", "smallest_p": "Float64",
}  # fmt: skip
"""Columns of Bearing.alternation; one row a crop with an index.

n_units: units with an index, index their mean. chance, chance_low, chance_high: that mean in other orders of the
seasons, shuffled alike for all units. seasons: how many there are over all units. orders: how many were looked at;
listed: whether these are all. tellable: whether any order of these seasons could lie above the range. smallest_p: share
of the orders with the highest index, the smallest p that these crops could give.
"""


@attrs.frozen(kw_only=True, eq=False)
class Bearing(Result):
    """How plants bear from year to year. alternation: the index by crop (columns in BY_CROP). trend: change with age
    (columns in ageing.COLUMNS). variance: lasting differences between units (columns in repeatability.COLUMNS).

    Columns of the table: one row a unit with a season whose crop is known.

    unit: its first plant. plants: all its plants. first_season, last_season: the ends of its record; mean_crop: of its
    seasons, a plant standing, in the measure. seasons: those with a known crop; pairs: neighbouring ones the
    index is the mean of; zero_pairs: left out, for nothing was borne in either; breaks: places where a missing season
    breaks the succession; without_value: seasons in growth whose crop is not known. index: 0 for even bearing to 1
    where every other season bears nothing; missing without a pair. chance: the index these seasons would show on
    average in any order, and chance_low to chance_high the range of at least 95 in 100 orders; missing below 3
    seasons.
    """

    measure: str
    alternation: pd.DataFrame
    trend: pd.DataFrame
    variance: pd.DataFrame


def bearing(
    source: Source, *, measure: str | None = None, crop: str | None = None, labels: Collection[str] | None = None
) -> Bearing:
    """How plants bear from year to year: alternation, change with age, and lasting differences between them.

    Alternation is the index of Hoblyn et al. 1936 (Monselise and Goldschmidt 1982), held against other orders of the
    same seasons; age a mean of slopes within units; lasting differences are variances by REML.

    One row is one unit; columns as help(perennia.Bearing) tells. measure: total_g, count or g_per_m2; unless given
    total_g or count, whichever is each crop's own. labels may name plants, as ``A1/2021``; a unit is taken whole when
    any of its plants is named. Only seasons that are over count, and a season that still runs for any plant of a site
    is left out for all of them.

    Raises AnalysisError for an unknown measure or one that is a date, ArgumentError for what is of another kind.
    """
    chosen = None if crop is None else arguments.a_name(crop, "crop")
    frame = source.sql(_ROWS, [chosen])
    found = bearing_of(frame, measure=measure, labels=labels, profiles=source.profiles)
    unknown = unknown_names(source, labels, None if chosen is None else [chosen])
    return attrs.evolve(found, cautions=(*unknown, *found.cautions))


def bearing_of(
    frame: pd.DataFrame,
    *,
    measure: str | None = None,
    labels: Collection[str] | None = None,
    profiles: Mapping[str, CropProfile] | None = None,
) -> Bearing:
    """bearing on rows of season_summary.

    profiles: the crop profiles to go by, the shipped ones when not given.
    """
    measured = None if measure is None else _choose(measure)
    named = None if labels is None else arguments.names(labels, "labels")
    rows = rows_of(frame)
    every = _by_crop(rows, measured, named, profiles)
    answers = [(found, *alternation([(unit.years, unit.values) for unit in found.units])) for found in every]
    table = [_row(found, unit, entry) for found, entries, _ in answers
             for unit, entry in zip(found.units, entries, strict=True)]  # fmt: skip
    by_crop = [_crop_row(found, mean) for found, _, mean in answers if mean is not None]
    trend = [row for found in every for row in ageing.trend_rows(found)]
    variance = [repeatability.variance_row(found) for found in every if found.units]
    return Bearing(
        table=ordered(framed(table, COLUMNS), ["crop", "unit"]),
        n=len(table),
        method=_METHOD,
        units=_UNITS,
        cautions=bearing_cautions(every, table, trend, variance),
        findings=tuple(_findings(answers, trend, variance))
        or ("No season that is over, with a known crop, is on record for what was asked.",),
        measure=measures_named(table, () if measured is None else (measured,)),
        alternation=framed(by_crop, BY_CROP),
        trend=framed(trend, ageing.COLUMNS),
        variance=framed(variance, repeatability.COLUMNS),
    )


def _choose(name: str) -> Measure:
    """The measure of that name. Raises AnalysisError for one that is no crop."""
    measure = choose_measure(name)
    if name not in _MEASURES:
        raise AnalysisError(f"{name} is no crop, and bearing is of crops: choose one of {', '.join(_MEASURES)}")
    return measure


def _by_crop(
    rows: Sequence[Row], measure: Measure | None, labels: Sequence[str] | None,
    profiles: Mapping[str, CropProfile] | None,
) -> list[CropHistories]:  # fmt: skip
    crops: dict[str, list[Row]] = {}
    for row in rows:
        crops.setdefault(str(row["crop"]), []).append(row)
    every = [
        histories(crops[crop], crop, measure or own_measure(crop, crops[crop], profiles), labels)
        for crop in sorted(crops)
    ]
    return [found for found in every if found.units or found.running or found.valueless]


def _row(found: CropHistories, unit: History, entry: Alternation) -> dict[str, object]:
    return {
        "crop": found.crop, "unit": unit.unit, "plants": ", ".join(unit.plants), "measure": found.measure.name,
        "first_season": unit.seasons[0].season_name, "last_season": unit.seasons[-1].season_name,
        "without_value": unit.without_value, "mean_crop": sum(unit.values) / len(unit.values),
        **attrs.asdict(entry),
    }  # fmt: skip


def _crop_row(found: CropHistories, mean: MeanAlternation) -> dict[str, object]:
    fields: dict[str, Any] = attrs.asdict(mean)
    return {"crop": found.crop, "measure": found.measure.name, "n_units": fields.pop("n"), **fields}


def _findings(
    answers: Sequence[tuple[CropHistories, list[Alternation], MeanAlternation | None]],
    trend: Sequence[dict[str, object]],
    variance: Sequence[dict[str, object]],
) -> list[str]:
    """Crop by crop: alternation, age, repeatability."""
    said: list[str] = []
    for found, entries, mean in answers:
        if not found.units:
            said.append(f"{found.crop}: no season that is over has a known crop, so nothing can be said.")
            continue
        said.append(alternation_finding(found, entries, mean))
        ours = [row for row in trend if row["crop"] == found.crop]
        said += [age_finding(row, found.measure) for row in ours]
        if not ours:
            said.append(f"{found.crop}, change with age: no unit has two seasons.")
        said += [repeatability_finding(row) for row in variance if row["crop"] == found.crop]
    return said
