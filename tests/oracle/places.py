"""Where a plant stood and what was over it, asked day by day."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

import attrs

from tests.oracle.book import Book, Entry, all_days
from tests.oracle.entries import plant_of
from tests.oracle.lives import Plant

_AWAY = ("stored_pot", "lifted", "stored_bare", "store_checked")
_IN_GROUND = ("sown", "growing", "dormant")


@attrs.frozen
class Place:
    """A bed under a cover."""

    site: str
    bed: str
    cover: str
    container: str | None


@attrs.frozen
class Stay:
    """Where a plant stood most of some days, and whether it moved within them."""

    place: Place
    moved: bool


def bed_on(life: Plant, day: date) -> str | None:
    """The bed a plant stood in at the end of a day: none out of the ground, none known after it until one is named."""
    past = [turn for turn in life.turns if turn.day <= day]
    if not past or past[-1].after not in _IN_GROUND:
        return None
    away = max((turn.number for turn in past if turn.act.act in _AWAY), default=0)
    beds = [turn.act.bed for turn in past if turn.act.bed is not None and turn.number > away]
    return beds[-1] if beds else None


def covers_over(book: Book, lives: list[Plant], life: Plant) -> list[Entry]:
    """Covers put on and taken off the plant itself."""
    return [
        entry for entry in _covers(book)
        if life.label in entry.labels and plant_of(lives, life.label, entry) is life
    ]  # fmt: skip


def place_on(book: Book, life: Plant, over_plant: list[Entry], day: date) -> Place | None:
    """Bed and cover at the end of a day: a cover over the plant itself, else one over the bed, else the bed's own."""
    name = bed_on(life, day)
    if name is None:
        return None
    bed = book.beds[name]
    over_bed = [entry for entry in _covers(book) if getattr(entry.record, "bed", None) == name]
    cover = _last_cover(over_plant, day) or _last_cover(over_bed, day) or bed.cover
    return Place(bed.site, name, cover, bed.container)


def _covers(book: Book) -> list[Entry]:
    return [entry for entry in book.entries["care"] if entry.event in ("covered", "uncovered")]


def _last_cover(changes: list[Entry], day: date) -> str | None:
    past = [entry for entry in changes if entry.last <= day]
    if not past:
        return None
    # put on goes before taken off the same day, whatever the order of writing
    last: Any = max(past, key=lambda entry: (entry.last, entry.event == "covered", entry.id)).record
    return getattr(last, "cover", None)


def stay(book: Book, lives: list[Plant], life: Plant, first: date, last: date) -> Stay | None:
    """The place of most days, the later on a tie. A second bed is always a move, another cover from a quarter on."""
    over = covers_over(book, lives, life)
    days = [(day, place) for day in all_days(first, last) if (place := place_on(book, life, over, day)) is not None]
    if not days:
        return None
    often = Counter(place for _, place in days)
    latest = {place: day for day, place in days}
    most = max(often, key=lambda place: (often[place], latest[place]))
    elsewhere = sum(1 for _, place in days if place.cover != most.cover)
    return Stay(most, len({place.bed for _, place in days}) > 1 or 4 * elsewhere >= len(days))
