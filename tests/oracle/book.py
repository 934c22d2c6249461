"""The grower's book as the oracle reads it: records with their ids, places, and the arithmetic of growing years."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import attrs

from perennia.records.base import Record, event_of
from perennia.records.flowering import FlowerFate
from perennia.records.harvest import BooksKept
from perennia.records.places import Bed, Site
from perennia.records.spans import Span

Row = dict[str, Any]
FAR = date(9999, 12, 31)


@attrs.frozen
class Entry:
    """One record with its id (32 hexadecimal digits), its event and the days it can speak of."""

    id: str
    record: Record
    event: str
    first: date | None
    last: date

    @property
    def labels(self) -> tuple[str, ...]:
        """The labels named, none for a bed."""
        if hasattr(self.record, "labels"):
            return tuple(self.record.labels or ())
        return (self.record.label,) if getattr(self.record, "label", None) is not None else ()

    @property
    def shared_by(self) -> int:
        """How many labels share it."""
        return max(1, len(self.labels))


@attrs.frozen
class Book:
    """All records of a garden: its places by name, their ids by table and name, and its dated entries by table."""

    sites: dict[str, Site]
    beds: dict[str, Bed]
    place_ids: dict[tuple[str, str], str]
    entries: dict[str, list[Entry]]

    @property
    def horizon(self) -> date | None:
        """The latest day any record is sure to speak of: of a day half remembered, the first it can have been."""
        sure = [
            entry.last if throughout or is_day(entry.first, entry.last) else entry.first
            for table in self.entries.values()
            for entry in table
            for throughout in [isinstance(entry.record, BooksKept | FlowerFate)]
        ]
        return max((day for day in sure if day is not None), default=None)

    def starts_at(self, bed: str | None) -> str | None:
        """First day, month-day, of the growing year at a bed; of the only site when there is no bed."""
        site = self.site_of(bed)
        return None if site is None else site_starts(self.sites[site])

    def site_of(self, bed: str | None) -> str | None:
        """The bed's site; the only site when there is no bed."""
        if bed is not None:
            return self.beds[bed].site
        return next(iter(self.sites)) if len(self.sites) == 1 else None


def read(records: Sequence[tuple[bytes, Record]]) -> Book:
    """A book from records and their ids."""
    sites, beds, place_ids = {}, {}, {}
    entries: dict[str, list[Entry]] = {name: [] for name in ("life", "harvest", "flowering", "care", "weather", "seed")}
    for identity, record in records:
        if isinstance(record, Site | Bed):
            place_ids[record.table, record.name] = identity.hex()
        if isinstance(record, Site):
            sites[record.name] = record
        elif isinstance(record, Bed):
            beds[record.name] = record
        else:
            first, last = _days(record)
            entries[record.table].append(Entry(identity.hex(), record, event_of(type(record)), first, last))
    return Book(sites, beds, place_ids, entries)


def _days(record: Any) -> tuple[date | None, date]:
    if isinstance(record, BooksKept):
        days = [record.since, record.until]
    elif isinstance(record, FlowerFate):
        days = [day for day in (record.opened_on, record.set_on, record.ended_on) if day is not None]
    elif isinstance(record.on, Span):
        return record.on.start, record.on.end
    else:
        days = [record.on]
    return min(days), max(days)


def site_starts(site: Site) -> str:
    """First day of a site's growing year: its own, else 1 January, 1 July south of the equator."""
    if site.season_starts is not None:
        return site.season_starts
    return "07-01" if (site.latitude or 0) < 0 else "01-01"


def season_of(day: date, starts: str) -> int:
    """The growing year a day lies in, named by the calendar year of its first day."""
    return day.year if day >= season_begins(day.year, starts) else day.year - 1


def season_begins(season: int, starts: str) -> date:
    """First day of a growing year."""
    return date(season, int(starts[:2]), int(starts[3:]))


def season_ends(season: int, starts: str) -> date:
    """Last day of a growing year."""
    return season_begins(season + 1, starts) - timedelta(1)


def season_name(season: int, starts: str) -> str:
    """2024, or 2024/25 where the growing year is not the calendar year."""
    return str(season) if starts == "01-01" else f"{season}/{(season + 1) % 100:02d}"


def is_day(first: date | None, last: date) -> bool:
    """Whether a date is known closely enough for timing: to 14 days."""
    return first is not None and (last - first).days < 14


def all_days(first: date, last: date) -> list[date]:
    """Every day from the first to the last."""
    return [first + timedelta(number) for number in range((last - first).days + 1)]
