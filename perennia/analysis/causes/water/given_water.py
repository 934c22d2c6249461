"""The watering of a bed day by day, in mm over its ground."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import timedelta
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

_WATERED = (
    "select on_from, on_to, bed, plant, litres, mm from care where event = 'watered' "
    "and (bed = $bed or list_contains($plants, plant)) and on_to >= $first and coalesce(on_from, on_to) <= $last"
)
_ANY = (
    "select count(*) as n from care where event = 'watered' and on_to >= $first and coalesce(on_from, on_to) <= $last"
)


@attrs.frozen(eq=False)
class GivenWater:
    """mm: by day, 0 where none is recorded, nan where one has no depth. without_depth: how many have none. anywhere:
    whether any watering is recorded in the garden in that time: none written is not none given. vague: waterings dated
    by a span, which are taken on its middle day."""

    mm: pd.Series[float]
    without_depth: int
    anywhere: bool
    vague: int


def given_water(
    source: Source, bed: str, plants: Mapping[str, int], ground_m2: float | None, days: pd.DatetimeIndex
) -> GivenWater:
    """What was given to a bed, or to labels in it. plants: how many stand under each plant's label.

    Litres are taken over the whole ground, whether they went to the bed or to labels, since the balance is that of the
    bed; mm given to labels are weighed by their share of the plants.
    """
    bounds = {"first": days[0].date(), "last": days[-1].date()}
    rows = rows_of(source.sql(_WATERED, {"bed": bed, "plants": sorted(plants), **bounds}))
    taken = [row for row in rows if days[0] <= _day(row) <= days[-1]]
    depths = dict.fromkeys(days, 0.0)
    for row in taken:
        depths[_day(row)] += _mm(row, plants, ground_m2)
    return GivenWater(
        mm=pd.Series(depths, index=days),
        without_depth=sum(math.isnan(_mm(row, plants, ground_m2)) for row in taken),
        anywhere=bool(source.sql(_ANY, bounds)["n"].iloc[0]),
        vague=sum(row["on_from"] != row["on_to"] for row in taken),
    )


def _day(row: Row) -> pd.Timestamp:
    """The day, or the middle of its span; the last day where its start is open."""
    last = pd.Timestamp(row["on_to"])
    return last if row["on_from"] is None else last - timedelta(days=math.ceil((last - row["on_from"]).days / 2))


def _mm(row: Row, plants: Mapping[str, int], ground_m2: float | None) -> float:
    if row["mm"] is not None:
        return float(row["mm"]) * (1.0 if row["bed"] is not None else plants[row["plant"]] / sum(plants.values()))
    return math.nan if ground_m2 is None else float(row["litres"]) / ground_m2
