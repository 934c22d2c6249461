"""What a plant gave in a season, and what shows that nothing was missed: the view season_totals."""

from __future__ import annotations

from typing import Any

from perennia import crops
from tests.oracle.book import Book, Row, all_days, is_day
from tests.oracle.places import bed_on
from tests.oracle.seasons import Season


def picked_rows(harvest: list[Row], season: Season) -> list[Row]:
    """The pickings and looks of one plant and season."""
    key = season.life.name, season.year, "picked"
    return [row for row in harvest if (row["plant"], row["season"], row["event"]) == key]


def _sum(values: list[Any]) -> Any:
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def totals_row(book: Book, harvest: list[Row], season: Season) -> Row:
    """One row of season_totals."""
    rows = picked_rows(harvest, season)
    crop = [row for row in rows if row["crop_taken"]]
    unweighed = sum(1 for row in crop if row["grams"] is None)
    uncounted = sum(1 for row in crop if row["count"] is None)
    left = [row["count"] for row in harvest if row["plant"] == season.life.name and row["season"] == season.year
            and row["event"] == "left_for_seed"]  # fmt: skip
    weighed, counted = _sum([row["grams"] for row in rows]), _sum([row["count"] for row in rows])
    looks = len(rows) - len(crop)
    books = season.grew is not False and _books_kept(book, harvest, season)
    nothing = 0 if looks or books else None
    return {
        "plant": season.life.name, "label": season.life.label, "season": season.year, "crop": season.life.crop,
        "total_g": (None if unweighed else weighed) if crop else nothing,
        "count": (None if uncounted else counted) if crop else nothing,
        "weighed_g": weighed, "counted": counted, "unweighed": unweighed, "uncounted": uncounted, "looks": looks,
        "books_kept": books, "clearance_g": _sum([row["grams"] for row in rows if row["clearance"]]),
        "shared_g": _sum([row["grams"] for row in rows if row["shared_by"] > 1]),
        "spans_left_out": sum(1 for row in rows if not is_day(row["on_from"], row["on_to"])),
        "left_for_seed": _sum(left), "minutes": _sum([row["minutes"] for row in rows]),
        "measure": _measure(season, crop, unweighed, uncounted),
    }  # fmt: skip


def _measure(season: Season, crop: list[Row], unweighed: int, uncounted: int) -> str | None:
    """The crop's own harvest unit where every picking has it, else the other where every picking has that."""
    profile = crops.profile(season.life.crop or "")
    missing = {"g": unweighed, "count": uncounted}
    order = ("count", "g") if profile and profile.harvest_unit == "count" else ("g", "count")
    return next((unit for unit in order if not missing[unit]), None) if crop else None


def _books_kept(book: Book, harvest: list[Row], season: Season) -> bool:
    """Whether complete books of a bed it stood in cover all days on which its crop was picked by anyone that season."""
    days = [row["on"] for row in harvest
            if row["crop"] == season.life.crop and row["season"] == season.year and row["crop_taken"]]  # fmt: skip
    if not days:
        return False
    stood = {bed_on(season.life, day) for day in all_days(min(days), max(days))}
    return any(
        entry.event == "books_kept" and entry.record.bed in stood
        and entry.first <= min(days) and max(days) <= entry.last
        for entry in book.entries["harvest"]
    )  # fmt: skip
