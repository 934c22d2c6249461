"""Flowers followed one by one: what became of each, and what the books of a season hold of flowers and counts."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import attrs

from perennia.analysis.causes.setting.truss_counts import TrussCounts, day_of, truss_counts
from perennia.analysis.units import NOT_RECORDED, Row, rows_of
from perennia.checking import arguments

if TYPE_CHECKING:
    import pandas as pd

    from perennia.source import Source

OPEN_AT_MOST_DAYS = 21
"""A flower without an end is taken as lost to view once the books run so many days past it (own rule, no source)."""

_ROWS = """
select flowers.*, named.season_name
from flowering as flowers
left join (select plant, season, season_name from plant_seasons) as named using (plant, season)
where flowers.crop is null or flowers.crop = coalesce(?, flowers.crop)
"""
_SET = ("pod dropped", "full size", "picked")
_FULL = ("full size", "picked")
_DROPPED = ("flower dropped", "pod dropped")


@attrs.frozen
class Flower:
    """One flower of one plant's season. truss: plant and truss. lost_sight: it has no end, and the books run on past
    the time in which one would have been seen."""

    plant: str
    truss: tuple[str, str]
    position: int
    opened_on: date | None
    set_on: date | None
    ended_on: date | None
    end: str | None
    lost_sight: bool

    @property
    def set(self) -> bool | None:
        """Whether it set a pod or fruit; None where that is not known (open, lost to view or damaged before)."""
        if self.set_on is not None or self.end in _SET:
            return True
        return False if self.end == "flower dropped" else None

    @property
    def full(self) -> bool | None:
        """Whether it was carried to full size or picked; None where it grows still, was lost to view or damaged."""
        if self.end in _FULL:
            return True
        return False if self.end in _DROPPED else None

    @property
    def lost_to_view(self) -> bool:
        """Whether nobody knows its end, by the grower's word or because none was written in time."""
        return self.end == "lost to view" or (self.end is None and self.lost_sight)

    @property
    def still_open(self) -> bool:
        """Whether it is a flower that may yet set or drop."""
        return self.end is None and not self.lost_sight and self.set_on is None

    @property
    def growing(self) -> bool:
        """Whether it is a pod or fruit that may yet grow to full size or drop."""
        return self.end is None and not self.lost_sight and self.set_on is not None

    @property
    def lost_on(self) -> date | None:
        """Day its loss was seen, where it dropped."""
        return self.ended_on if self.end in _DROPPED else None


@attrs.frozen(eq=False)
class FlowerBook:
    """All flowers and truss counts of one crop in one season. joined: flowers written in several rows. contrary: such
    rows that contradict one another, of which the later was taken. last_day: last day the books speak of."""

    crop: str
    season: int
    season_name: str
    flowers: tuple[Flower, ...]
    counts: tuple[TrussCounts, ...]
    joined: int
    contrary: int
    last_day: date

    @property
    def plants(self) -> tuple[str, ...]:
        """Plants with a flower or a count."""
        return tuple(sorted({one.plant for one in self.flowers} | {one.truss[0] for one in self.counts}))


@attrs.frozen(eq=False)
class FlowerBooks:
    """Every book asked for. unplaced: rows whose plant is not known. unknown: labels asked for that no row has."""

    books: tuple[FlowerBook, ...]
    unplaced: int
    unknown: tuple[str, ...]


def read_books(
    source: Source, crop: str | None, season: int | None, labels: Collection[str] | None
) -> FlowerBooks:
    """The flowering on record for what was asked. Raises ArgumentError for what is of another kind."""
    chosen = None if crop is None else arguments.a_name(crop, "crop")
    year = None if season is None else arguments.a_year(season, "season")
    named = None if labels is None else arguments.names(labels, "labels")
    return books_of(flowering_rows(source, chosen), season=year, labels=named)


def flowering_rows(source: Source, crop: str | None) -> pd.DataFrame:
    """Rows of the view flowering with season_name, of one crop or of all."""
    return source.sql(_ROWS, [crop])


def books_of(
    frame: pd.DataFrame, *, season: int | None = None, labels: Sequence[str] | None = None
) -> FlowerBooks:
    """read_books on rows of the view flowering with season_name."""
    rows = [row for row in rows_of(frame) if labels is None or {row["label"], row["plant"]} & set(labels)]
    unplaced = sum(row["plant"] is None for row in rows)
    gathered: dict[tuple[str, int], list[Row]] = {}
    for row in rows:
        if row["plant"] is not None and (season is None or int(row["season"]) == season):
            gathered.setdefault((str(row["crop"] or NOT_RECORDED), int(row["season"])), []).append(row)
    there = {row[name] for row in rows for name in ("label", "plant")}
    return FlowerBooks(
        tuple(_book(crop, year, gathered[crop, year]) for crop, year in sorted(gathered)),
        unplaced, tuple(sorted(set(labels or ()) - there)),
    )  # fmt: skip


def _book(crop: str, season: int, rows: Sequence[Row]) -> FlowerBook:
    last_day = max(day_of(row["on_to"]) for row in rows)
    names = {str(row["season_name"]) for row in rows if row["season_name"] is not None}
    gathered: dict[tuple[str, str, int], list[Row]] = {}
    counted: dict[tuple[str, str], list[Row]] = {}
    for row in sorted(rows, key=lambda row: (day_of(row["on_to"]), str(row["record_id"]))):
        truss = (str(row["plant"]), str(row["truss"]))
        if row["event"] == "flower_fate":
            gathered.setdefault((*truss, int(row["position"])), []).append(row)
        else:
            counted.setdefault(truss, []).append(row)
    return FlowerBook(
        crop=crop,
        season=season,
        season_name=min(names, default=str(season)),
        flowers=tuple(_flower(key, gathered[key], last_day) for key in sorted(gathered)),
        counts=tuple(truss_counts(truss, counted[truss]) for truss in sorted(counted)),
        joined=sum(len(same) > 1 for same in gathered.values()),
        contrary=sum(_contrary(same) for same in gathered.values()),
        last_day=last_day,
    )


def _flower(key: tuple[str, str, int], rows: Sequence[Row], last_day: date) -> Flower:
    """One flower from all rows of its place, a later row going before an earlier one."""
    plant, truss, position = key
    found = {name: _last(row[name] for row in rows) for name in ("opened_on", "set_on", "ended_on", "end")}
    opened, was_set, ended = (found[name] and day_of(found[name]) for name in ("opened_on", "set_on", "ended_on"))
    seen = max(day_of(row["on_to"]) for row in rows)
    return Flower(
        plant, (plant, truss), position, opened, was_set, ended, found["end"],
        lost_sight=found["end"] is None and last_day - seen > timedelta(OPEN_AT_MOST_DAYS),
    )  # fmt: skip


def _contrary(rows: Sequence[Row]) -> bool:
    return any(
        len({row[name] for row in rows if row[name] is not None}) > 1
        for name in ("opened_on", "set_on", "ended_on", "end")
    )


def _last(values: Iterable[Any]) -> Any:
    return next((value for value in reversed(list(values)) if value is not None), None)
