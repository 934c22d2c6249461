"""Water given to a plant in a season: waterings and watered_mm of season_summary."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import Any

from tests.oracle.book import Book, Entry, Row, season_of
from tests.oracle.entries import plant_of, share
from tests.oracle.lives import Plant
from tests.oracle.places import bed_on
from tests.oracle.seasons import Season, first_season


def given(book: Book, lives: list[Plant], season: Season, ground_m2: float | None) -> Row:
    """Waterings that reached a plant in a season and their depth in mm, each missing where it cannot be known."""
    depths = [
        _depth_mm(book, entry, ground_m2)
        for entry in _waterings(book)
        if _reached(lives, season.life, entry) and max(_season(season, entry), first_season(season.life)) == season.year
    ]
    if not depths and not any(_season(season, entry) == season.year for entry in _waterings(book)):
        return {"waterings": None, "watered_mm": None}
    return {"waterings": len(depths), "watered_mm": None if None in depths else sum(depths)}


def _waterings(book: Book) -> Iterator[Entry]:
    return (entry for entry in book.entries["care"] if entry.event == "watered")


def middle_day(entry: Entry) -> date:
    """The middle of its span, its last day where the first is open."""
    return entry.last if entry.first is None else entry.first + (entry.last - entry.first) // 2


def _season(season: Season, entry: Entry) -> int:
    return season_of(middle_day(entry), season.life.starts)


def _reached(lives: list[Plant], life: Plant, entry: Entry) -> bool:
    record: Any = entry.record
    if entry.labels:
        return life.label in entry.labels and plant_of(lives, life.label, entry) is life
    return bed_on(life, middle_day(entry)) == record.bed


def _depth_mm(book: Book, entry: Entry, ground_m2: float | None) -> Fraction | None:
    """As given; else a bed's litres over its area, or the label's share of litres over its own ground."""
    record: Any = entry.record
    if record.mm is not None:
        return Fraction(record.mm)
    over = ground_m2 if entry.labels else book.beds[record.bed].area_m2
    litres = share(record.litres, entry.shared_by)
    return None if over is None or litres is None else litres / Fraction(over)
