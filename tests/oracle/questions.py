"""What in the books asks for a look: the view open_questions."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from functools import cache

from perennia import crops
from tests.oracle.book import Book, Row
from tests.oracle.entries import trial_arms_view
from tests.oracle.lives import Plant, begun_plants, inferred_acts
from tests.oracle.seasons import Season

_TWO_MONTHS = 61


def questions_view(
    book: Book, lives: list[Plant], found: list[Season], harvest: list[Row], grown: list[Row]
) -> Iterator[Row]:
    """Rows of open_questions."""
    for life in lives:
        for row, doubted in inferred_acts(life, harvest):
            if doubted:
                kept = {name: row[name] for name in ("event", "on_from", "on_to", "record_id")}
                yield _question(life.name, life.label, "gap") | kept
        yield from _unchecked(book, life)
        yield from _near_crop(life)
    yield from _weights(lives, harvest)
    yield from _twins(harvest)
    for row in trial_arms_view(book, lives):
        if row["changed"]:
            kept = {name: row[name] for name in ("on_from", "on_to", "record_id")}
            yield _question(row["plant"], row["label"], "allotted") | {"event": "allotted"} | kept
    for season, row in zip(found, grown, strict=True):
        if row["grew"] and row["bed"] is None and (row["wintering"] or "").startswith("pot"):
            yield _question(season.life.name, season.life.label, "unplaced") | {
                "event": "moved", "on_from": season.first_day, "on_to": season.last_day,
            }  # fmt: skip
        if season.finished and season.grew is None:
            yield _question(season.life.name, season.life.label, "silent") | {
                "event": "regrew" if season.kept_root else "emerged",
                "on_from": season.first_day, "on_to": season.last_day,
            }  # fmt: skip


def _question(plant: str, label: str, kind: str) -> Row:
    empty = dict.fromkeys(("record_id", "grams", "likely_grams", "crop", "near"))
    return empty | {"plant": plant, "label": label, "kind": kind}


def _near_crop(life: Plant) -> Iterator[Row]:
    """A crop named where the plant began, without a profile, whose name is within 15 in 100 letters of one that has."""
    entry = life.first.act.entry
    crop = getattr(entry.record, "crop", None)
    if crop is None or crops.profile(crop) is not None:
        return
    near = {
        profile.crop
        for profile in crops.profiles().values()
        for name in (profile.crop, *profile.common_names)
        if _edits(_plain(crop), _plain(name)) <= Fraction(15, 100) * max(len(crop), len(name))
    }
    if near:
        yield _question(life.name, life.label, "crop") | {
            "event": entry.event, "on_from": entry.first, "on_to": entry.last, "record_id": entry.id, "crop": crop,
            "near": ", ".join(sorted(near)),
        }  # fmt: skip


def _plain(name: str) -> str:
    return name.replace("×", "x").lower()


@cache
def _edits(one: str, other: str) -> int:
    """Letters to put in, leave out or change to make one name the other."""
    if not one or not other:
        return len(one) + len(other)
    return min(
        _edits(one[1:], other[1:]) + (one[0] != other[0]), _edits(one[1:], other) + 1, _edits(one, other[1:]) + 1
    )


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
