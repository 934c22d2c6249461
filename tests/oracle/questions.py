"""What in the books asks for a look: the view open_questions."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from perennia import crops
from tests.oracle.book import Book, Row
from tests.oracle.lives import Plant, begun_plants, inferred_acts
from tests.oracle.seasons import Season

_TWO_MONTHS = 61


def questions_view(book: Book, lives: list[Plant], found: list[Season], harvest: list[Row]) -> Iterator[Row]:
    """Rows of open_questions."""
    for life in lives:
        for row, doubted in inferred_acts(life, harvest):
            if doubted:
                kept = {name: row[name] for name in ("event", "on_from", "on_to", "record_id")}
                yield _question(life.name, life.label, "gap") | kept
        yield from _unchecked(book, life)
    yield from _weights(lives, harvest)
    yield from _twins(harvest)
    for season in found:
        if season.finished and season.grew is None:
            yield _question(season.life.name, season.life.label, "silent") | {
                "event": "regrew" if season.kept_root else "emerged",
                "on_from": season.first_day, "on_to": season.last_day,
            }  # fmt: skip


def _question(plant: str, label: str, kind: str) -> Row:
    return dict.fromkeys(("record_id", "grams", "likely_grams")) | {"plant": plant, "label": label, "kind": kind}


def _unchecked(book: Book, life: Plant) -> Iterator[Row]:
    last, now = life.turns[-1], book.horizon or date.min
    if last.after == "stored" and (now - last.day).days > _TWO_MONTHS:
        yield _question(life.name, life.label, "unchecked") | {
            "event": "store_checked", "on_from": last.day, "on_to": now, "record_id": last.act.entry.id,
        }  # fmt: skip


def _weights(lives: list[Plant], harvest: list[Row]) -> Iterator[Row]:
    by_name = {life.name: life for life in lives}
    for row in harvest:
        if row["event"] != "picked" or row["plant"] is None or not row["grams"]:
            continue
        profile = crops.profile(by_name[row["plant"]].crop or "")
        most = profile.grams_per_plant_day_max.value if profile and profile.grams_per_plant_day_max else None
        asked = {name: row[name] for name in ("event", "on_from", "on_to", "record_id")}
        begun = begun_plants(by_name[row["plant"]])
        if most is not None and row["grams"] > most * begun:
            yield _question(row["plant"], row["label"], "heavy") | asked | {
                "grams": row["grams"], "likely_grams": most * begun,
            }  # fmt: skip
        least = (1000.0 if most is None else most) / 1000
        small_fruits = row["count"] is not None and row["grams"] >= 0.5 * row["count"]
        if row["grams"] * row["shared_by"] <= least and not small_fruits:
            yield _question(row["plant"], row["label"], "light") | asked | {
                "grams": row["grams"] * row["shared_by"], "likely_grams": least,
            }  # fmt: skip


def _twins(harvest: list[Row]) -> Iterator[Row]:
    seen: set[tuple[object, ...]] = set()
    for row in sorted(harvest, key=lambda row: row["record_id"]):
        if row["event"] != "picked" or row["plant"] is None or not row["crop_taken"] or row["on_from"] != row["on_to"]:
            continue
        said = tuple(row[name] for name in ("plant", "on_to", "grams", "count", "clearance"))
        if said in seen:
            yield _question(row["plant"], row["label"], "twin") | {
                name: row[name] for name in ("event", "on_from", "on_to", "record_id", "grams")
            }  # fmt: skip
        seen.add(said)
