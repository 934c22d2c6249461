"""The ground a plant took up in a season, and the time and money written down for it: the view season_efforts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import Any

from tests.oracle.book import Book, Entry, Row, all_days, season_of
from tests.oracle.entries import plant_of, share
from tests.oracle.lives import Plant
from tests.oracle.places import bed_on
from tests.oracle.seasons import Season, growth_signs, rests_of
from tests.oracle.water import middle_day

Spent = tuple[Fraction | float | None, Fraction | float | None, str]
_WORK = {
    "sown", "planted", "moved", "lifted", "stored", "mulched", "replanted", "cut_back", "removed", "divided",
    "cutting_taken", "picked", "watered", "fed", "hand_pollinated", "covered", "uncovered", "seed_saved",
}  # fmt: skip


def row(book: Book, lives: list[Plant], harvest: list[Row], own: list[Season], season: Season) -> Row:
    """One row of season_efforts; own has all seasons of the plant."""
    spent = [*_picking(harvest, season), *_work(book, lives, harvest, own, season)]
    minutes = [one[0] for one in spent if one[0] is not None]
    cost = [one[1] for one in spent if one[1] is not None]
    states = [_state_on(season.life, day) for day in _days(book, own, season) if bed_on(season.life, day)]
    growing, resting = sum(state in ("sown", "growing") for state in states), states.count("dormant")
    return {
        "plant": season.life.name, "label": season.life.label, "season": season.year,
        "occupied_days": growing or None, "resting_days": resting or None,
        "minutes": sum(minutes) if minutes else None, "cost": sum(cost) if cost else None,
        "works": sum(one[0] is not None or one[2] in _WORK for one in spent),
        "timed": len(minutes), "costed": len(cost),
    }  # fmt: skip


def _days(book: Book, own: list[Season], season: Season) -> list[date]:
    first = season.first_day
    if season.year == min(other.year for other in own):
        first = min(first, season.life.began)
    return list(all_days(first, min(season.last_day, book.horizon or date.max)))


def _state_on(life: Plant, day: date) -> str:
    return [turn.after for turn in life.turns if turn.day <= day][-1]


def _picking(harvest: list[Row], season: Season) -> Iterator[Spent]:
    for entry in harvest:
        if (entry["plant"], entry["season"]) == (season.life.name, season.year):
            yield entry["minutes"], entry["cost"], entry["event"]


def _work(
    book: Book, lives: list[Plant], harvest: list[Row], own: list[Season], season: Season
) -> Iterator[Spent]:
    first, last = min(other.year for other in own), max(other.year for other in own)
    signs = growth_signs(book, lives, season.life, harvest)
    # work on a root at rest is done for the season that rest leads into
    into = {turn.number: year for turn, year in rests_of(season.life, signs)}
    for year, spent in _dated(book, lives, season.life, into):
        if max(first, min(last, year)) == season.year:
            yield spent


def _dated(book: Book, lives: list[Plant], life: Plant, into: dict[int, int]) -> Iterator[tuple[int, Spent]]:
    for turn in life.turns:
        # of a division the mother has the time
        nothing: Spent = (None, None, turn.act.entry.event)
        year = into.get(turn.number, season_of(turn.day, life.starts))
        yield year, nothing if turn.act.mother else _parts(turn.act.entry, 1)
    for table in ("care", "flowering", "seed"):
        for entry in book.entries[table]:
            record: Any = entry.record
            labels = entry.labels or ([record.label] if getattr(record, "label", None) else [])
            if life.label in labels and plant_of(lives, life.label, entry) is life:
                yield season_of(middle_day(entry), life.starts), _parts(entry, len(labels))
            elif not labels and getattr(record, "bed", None) and bed_on(life, middle_day(entry)) == record.bed:
                standing = sum(bed_on(other, middle_day(entry)) == record.bed for other in lives)
                yield season_of(middle_day(entry), life.starts), _parts(entry, standing)


def _parts(entry: Entry, shared_by: int) -> Spent:
    record: Any = entry.record
    return share(record.minutes, shared_by), share(record.cost, shared_by), entry.event
