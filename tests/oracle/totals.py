"""What a plant gave in a season, and what shows that nothing was missed: the view season_totals."""

from __future__ import annotations

from datetime import date
from typing import Any

from perennia import crops
from tests.oracle.book import Book, Row, all_days, is_day
from tests.oracle.lives import BEARING
from tests.oracle.places import bed_on
from tests.oracle.seasons import Season


def picked_rows(harvest: list[Row], season: Season) -> list[Row]:
    """The pickings and looks of one plant and season."""
    key = season.life.name, season.year, "picked"
    return [row for row in harvest if (row["plant"], row["season"], row["event"]) == key]


def _sum(values: list[Any]) -> Any:
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def totals_row(book: Book, harvest: list[Row], season: Season, sites: dict[str, str | None]) -> Row:
    """One row of season_totals; sites has that of every plant."""
    rows = picked_rows(harvest, season)
    crop = [row for row in rows if row["crop_taken"]]
    unweighed = sum(1 for row in crop if row["grams"] is None)
    uncounted = sum(1 for row in crop if row["count"] is None)
    left = [row["count"] for row in harvest if row["plant"] == season.life.name and row["season"] == season.year
            and row["event"] == "left_for_seed"]  # fmt: skip
    weighed, counted = _sum([row["grams"] for row in rows]), _sum([row["count"] for row in rows])
    looks = len(rows) - len(crop)
    watched = _watched(book, harvest, season, sites)
    nothing = 0 if watched else None
    return {
        "plant": season.life.name, "label": season.life.label, "season": season.year, "crop": season.life.crop,
        "total_g": (None if unweighed else weighed) if crop else nothing,
        "count": (None if uncounted else counted) if crop else nothing,
        "weighed_g": weighed, "counted": counted, "unweighed": unweighed, "uncounted": uncounted, "looks": looks,
        "watched": watched, "clearance_g": _sum([row["grams"] for row in rows if row["clearance"]]),
        "clearance_count": _sum([row["count"] for row in rows if row["clearance"]]),
        "shared_g": _sum([row["grams"] for row in rows if row["shared_by"] > 1]),
        "shared_count": _sum([row["count"] for row in rows if row["shared_by"] > 1]),
        "spans_left_out": sum(1 for row in rows if not is_day(row["on_from"], row["on_to"])),
        "left_for_seed": _sum(left), "left_uncounted": left.count(None),
        "minutes": _sum([row["minutes"] for row in rows]),
        "measure": _measure(season, crop, unweighed, uncounted),
    }  # fmt: skip


def _measure(season: Season, crop: list[Row], unweighed: int, uncounted: int) -> str | None:
    """The crop's own harvest unit where every picking has it, else the other where every picking has that."""
    profile = crops.profile(season.life.crop or "")
    missing = {"g": unweighed, "count": uncounted}
    order = ("count", "g") if profile and profile.harvest_unit == "count" else ("g", "count")
    return next((unit for unit in order if not missing[unit]), None) if crop else None


def _watched(book: Book, harvest: list[Row], season: Season, sites: dict[str, str | None]) -> bool | None:
    """Whether every day on which anybody picked this crop at the site that season, else of the season, was seen to.

    Only days on which the plant could bear are asked for, all of its season if it could on none of those. A day is seen
    to by complete books of the bed the plant stood in, or at most a week away by a look, or by a picking in these days
    that counts for the season before. None where it gave a crop.
    """
    own = picked_rows(harvest, season)
    if any(row["crop_taken"] for row in own):
        return None
    days = [row["on"] for row in harvest
            if row["crop"] == season.life.crop and row["season"] == season.year and row["crop_taken"]
            and sites[row["plant"]] == season.life.site]  # fmt: skip
    bearing = [day for day in all_days(season.first_day, season.last_day) if _can_bear(season, day)]
    first, last = min(days, default=season.first_day), max(days, default=season.last_day)
    required = [day for day in bearing if first <= day <= last] or bearing
    looks = [row["on"] for row in harvest
             if row["plant"] == season.life.name and row["season"] + row["carried"] == season.year
             and row["event"] == "picked" and is_day(row["on_from"], row["on_to"])]  # fmt: skip
    return season.grew is not False and bool(required) and all(
        any(abs((day - look).days) <= 7 for look in looks) or _in_books(book, bed_on(season.life, day), day)
        for day in required
    )  # fmt: skip


def _can_bear(season: Season, day: date) -> bool:
    """Whether the plant stood at a day's end in a state in which it can be picked."""
    past = [turn for turn in season.life.turns if turn.day <= day]
    return bool(past) and past[-1].after in BEARING


def _in_books(book: Book, bed: str | None, day: date) -> bool:
    """Whether complete books were kept of the bed on that day."""
    return any(
        entry.event == "books_kept" and entry.record.bed == bed and entry.first <= day <= entry.last
        for entry in book.entries["harvest"]
    )
