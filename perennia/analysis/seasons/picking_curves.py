"""The curve of each plant's season as arrays: a rate for every day, and the days on which somebody picked or looked."""

from __future__ import annotations

from calendar import isleap
from collections.abc import Collection, Iterator, Mapping
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import attrs
import numpy as np
import pandas as pd

from perennia import crops as profiles_of
from perennia.analysis.permutation import Booleans, Floats, Integers
from perennia.analysis.seasons.curves import season_curves
from perennia.analysis.seasons.tables import season_summary
from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

Key = tuple[str, int]
"""A plant and a season."""

# spans over 14 days are left out of every date and rate
_VISITS = (
    'select plant, season, "on", bool_or(coalesce(grams, "count") > 0 and not clearance) as picked, '
    'bool_or(coalesce(grams, "count") > 0 and clearance) as stripped from harvest '
    "where event = 'picked' and on_to - on_from <= 13 and list_contains($plants, plant) group by all"
)
FEWEST_GAPS = 5
"""Gaps that a garden must show of a crop without a profile before its middle gap is gone by: our own choice, that of
the view season_summary too."""
_GAPS = (
    "select crop, count(gap) as gaps, median(gap) as gap_days from ("
    'select crop, "on" - lag("on") over (partition by plant, season order by "on") as gap from ('
    'select distinct crop, plant, season, "on" from harvest '
    "where event = 'picked' and plant is not null and on_to - on_from <= 13)) where gap is not null group by crop "
    f"having count(gap) >= {FEWEST_GAPS}"
)


@attrs.frozen(eq=False)
class PickingCurve:
    """One plant's season, day by day from the start of its crop to its last picking or look.

    row: its row of season_summary. first_day: day of the season of the first entry of per_day; first_on: its date.
    per_day: crop of each day in the season's measure, without what was stripped in clearance. visits: places in per_day
    of the days with a picking or look; picked: whether something was picked on them, clearances aside; stripped:
    whether anything was taken in clearance.
    """

    row: Row
    first_day: int
    first_on: date
    per_day: Floats
    visits: Integers
    picked: Booleans
    stripped: Booleans

    @property
    def finished(self) -> bool:
        """Whether the season is over for the plant."""
        return bool(self.row["finished"])

    @property
    def unit(self) -> tuple[int, str]:
        """What stands or falls together: the labels linked by shared pickings of one season are one."""
        return int(self.row["season"]), str(self.row["unit"])

    @property
    def pickings(self) -> int:
        """Days on which something was picked, clearances aside."""
        return int(self.picked.sum())

    @property
    def cleared(self) -> bool:
        """Whether anything was taken in clearance."""
        return bool(self.stripped.any())

    @property
    def total(self) -> float:
        """The crop without clearances."""
        return float(self.per_day.sum())

    @property
    def year_begins(self) -> tuple[int, int]:
        """Month and day on which its growing year begins."""
        begun = self.first_on - timedelta(days=self.first_day - 1)
        return begun.month, begun.day

    def on(self, place: int) -> date:
        """The date of a place in per_day."""
        return self.first_on + timedelta(days=int(place))

    def by_day(self, day: date, season: int) -> float:
        """The crop, without clearances, that was in by the end of the day that a day of another season is in this one:
        of the same date, whatever leap days lie before it."""
        year = day.year + int(self.row["season"]) - season
        leap = (day.month, day.day) == (2, 29) and not isleap(year)
        own = date(year, 2, 28) if leap else day.replace(year=year)
        return float(self.per_day[: max(0, (own - self.first_on).days + 1)].sum())

    def at_visits(self) -> tuple[Floats, Floats]:
        """Days of the season of each picking or look, and the crop without clearances that was in by their end; but for
        days of a clearance alone, when what had ripened went with the strip and is not known."""
        seen = self.visits[self.picked | ~self.stripped]
        return (seen + self.first_day).astype(np.float64), np.cumsum(self.per_day)[seen]


def read_curves(
    source: Source,
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
) -> tuple[list[Row], dict[Key, PickingCurve]]:
    """The rows of season_summary, and the curves of those that have one. Raises ArgumentError like season_summary."""
    rows = rows_of(season_summary(source, labels=labels, crops=crops, seasons=seasons).table)
    daily = season_curves(source, labels=labels, crops=crops, seasons=seasons).table
    visits = source.sql(_VISITS, {"plants": sorted(daily["plant"].unique())})
    daily = daily.merge(visits, how="left", on=["plant", "season", "on"]).sort_values("on")
    by_key = {key_of(row): row for row in rows}
    return rows, {key: _curve(by_key[key], days) for key, days in _by_season(daily)}


def _by_season(daily: pd.DataFrame) -> Iterator[tuple[Key, dict[str, Any]]]:
    """The days of each plant's season as arrays by column. A frame a season would take minutes over thousands."""
    place = daily.groupby(["plant", "season"], sort=False).ngroup().to_numpy()
    ordered = daily.iloc[np.argsort(place, kind="stable")]
    columns = {
        "on": ordered["on"].to_numpy("datetime64[D]"), "visited": ordered["picked"].notna().to_numpy(np.bool_),
        **{name: ordered[name].to_numpy(np.bool_, na_value=False) for name in ("picked", "stripped")},
        "per_day": ordered["per_day"].to_numpy(np.float64), "day": ordered["day_of_season"].to_numpy(np.int64),
    }  # fmt: skip
    plants, seasons = ordered["plant"].to_numpy(object), ordered["season"].to_numpy(np.int64)
    bounds = np.searchsorted(np.sort(place), np.arange(place.max(initial=-1) + 2))
    for first, last in pairwise(bounds):
        yield (str(plants[first]), int(seasons[first])), {name: of[first:last] for name, of in columns.items()}


def _curve(row: Row, days: Mapping[str, Any]) -> PickingCurve:
    places = np.flatnonzero(days["visited"])
    return PickingCurve(
        row=row, first_day=int(days["day"][0]), first_on=days["on"][0].item(), per_day=days["per_day"], visits=places,
        picked=days["picked"][places], stripped=days["stripped"][places],
    )  # fmt: skip


def key_of(row: Row) -> Key:
    """The plant and season of a row."""
    return str(row["plant"]), int(row["season"])


def usual_gaps(source: Source, crops: Collection[str]) -> Mapping[str, float]:
    """Days between pickings that are usual for each crop: its profile's, else the middle gap of the crop in the garden
    where it shows enough of them, else one day."""
    in_garden = middle_gaps(source)
    found = {}
    for crop in crops:
        profile = profiles_of.profile(crop, source.profiles)
        if profile is not None and profile.usual_picking_gap_days is not None:
            found[crop] = profile.usual_picking_gap_days.value
        else:
            found[crop] = max(1.0, in_garden[crop][1]) if crop in in_garden else 1.0
    return found


def middle_gaps(source: Source) -> Mapping[str, tuple[int, float]]:
    """By crop of which the garden shows enough gaps between pickings their number, and the middle one in days."""
    found = source.sql(_GAPS).dropna(subset="crop")
    return {str(crop): (int(gaps), float(days)) for crop, gaps, days in found.itertuples(index=False)}


def why_no_curve(row: Row) -> str | None:
    """Why a season with a crop on record has no curve; None where there is no crop on record."""
    if not row["picks"] and not row["spans_left_out"]:
        return None
    if not row["picks"]:
        return "no picking dated to 14 days"
    return "some pickings not weighed and some not counted"
