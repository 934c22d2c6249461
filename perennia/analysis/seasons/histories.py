"""Units followed from season to season: the same plants, or all those linked by a shared picking in any season."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Mapping, Sequence

import attrs

from perennia.analysis.linked import linked_plants
from perennia.analysis.measures import Measure
from perennia.analysis.places import changed_place
from perennia.analysis.units import Row, Unit, unit_from


@attrs.frozen(eq=False)
class History:
    """One unit through its finished seasons in growth.

    unit: its first plant. plants: all its plants. seasons: those with a value, oldest first. without_value: others.
    began: the season it began in, where all its plants began together and it is known, else None.
    changed: what of its place changed between one season in growth and the next. ended: seasons in which a plant of
    it ended. seen_through: whether it was growing, and did not die, in the last season over at its site.
    """

    unit: str
    plants: tuple[str, ...]
    seasons: tuple[Unit, ...]
    without_value: int
    began: int | None
    changed: tuple[str, ...]
    ended: int
    seen_through: bool

    @property
    def years(self) -> list[int]:
        """Its seasons."""
        return [season.season for season in self.seasons]

    @property
    def values(self) -> list[float]:
        """Its crop in each."""
        return [season.known_value for season in self.seasons]


@attrs.frozen(eq=False)
class CropHistories:
    """The units of one crop that have a season with a value.

    rows: rows of season_summary in the seasons over. running: units left out with a season that still runs, by the
    season's name. valueless: units without a value in any season. silent: plant seasons of which nothing is recorded.
    """

    crop: str
    measure: Measure
    units: tuple[History, ...]
    rows: tuple[Row, ...]
    running: Mapping[str, int]
    valueless: int
    silent: int


def histories(rows: Sequence[Row], crop: str, measure: Measure, labels: Collection[str] | None) -> CropHistories:
    """The units of one crop, all of them or those with any of these labels or plants, from rows of season_summary.

    A season still running for any plant of a site is left out for all of that site: what is over sooner is over
    because it died or cropped early, so that the rest of the season would be missing from one side only.
    """
    open_seasons = {_site_season(row) for row in rows if row["finished"] is not True and row["grew"] is not False}
    over = [row for row in rows if _site_season(row) not in open_seasons]
    last: dict[object, int] = {}
    for row in over:
        if row["grew"] is True:
            last[row["site"]] = max(last.get(row["site"], 0), int(row["season"]))
    in_growth: dict[str, list[Row]] = {}
    for row in over:
        if row["grew"] is True:
            in_growth.setdefault(str(row["plant"]), []).append(row)
    groups = linked_plants([row for entries in in_growth.values() for row in entries])
    chosen = [group for group in groups if _is_chosen([row for plant in group for row in in_growth[plant]], labels)]
    every = [_history([row for plant in group for row in in_growth[plant]], measure, last) for group in chosen]
    return CropHistories(
        crop=crop, measure=measure, units=tuple(history for history in every if history.seasons), rows=tuple(over),
        running=Counter(str(row["season_name"]) for row in rows if _site_season(row) in open_seasons
                        and row["grew"] is not False and _is_chosen([row], labels)),
        valueless=sum(not history.seasons for history in every),
        silent=sum(row["grew"] is None and _is_chosen([row], labels) for row in over),
    )  # fmt: skip


def _site_season(row: Row) -> tuple[object, int]:
    return row["site"], int(row["season"])


def _is_chosen(rows: Sequence[Row], labels: Collection[str] | None) -> bool:
    return labels is None or any(row["label"] in labels or row["plant"] in labels for row in rows)


def _history(rows: Sequence[Row], measure: Measure, last: Mapping[object, int]) -> History:
    by_season: dict[int, list[Row]] = {}
    for row in rows:
        by_season.setdefault(int(row["season"]), []).append(row)
    every = [unit_from(by_season[season], measure) for season in sorted(by_season)]
    latest = by_season[max(by_season)]
    began = {None if row["plant_season"] is None else int(row["season"]) - int(row["plant_season"]) + 1 for row in rows}
    plants = sorted({str(row["plant"]) for row in rows})
    return History(
        unit=plants[0], plants=tuple(plants), seasons=tuple(unit for unit in every if unit.value is not None),
        without_value=sum(unit.value is None for unit in every),
        began=next(iter(began)) if len(began) == 1 else None,
        changed=_changes(rows),
        ended=sum(any(row["ended_how"] is not None for row in entries) for entries in by_season.values()),
        seen_through=any(last.get(row["site"]) == row["season"] and row["ended_how"] != "died" for row in latest),
    )  # fmt: skip


def _changes(rows: Sequence[Row]) -> tuple[str, ...]:
    """What changed from one season in growth to the next, for any plant of the unit."""
    ordered = sorted(rows, key=lambda row: (str(row["plant"]), int(row["season"])))
    neighbours = [(a, b) for a, b in itertools.pairwise(ordered) if a["plant"] == b["plant"]]
    return changed_place(neighbours)
