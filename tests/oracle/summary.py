"""The views that put a season together: plant_seasons, season_summary, season_curves; and all views at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from perennia.records.base import Record
from tests.oracle import curves, efforts, entries, lives, places, questions, seasons, totals, water, winters
from tests.oracle.book import Book, Row, read
from tests.oracle.descent import parentage_view
from tests.oracle.lives import Plant
from tests.oracle.seasons import Season
from tests.oracle.standing import standing_view

Key = tuple[str, int]


def views(records: Sequence[tuple[bytes, Record]]) -> dict[str, list[Row]]:
    """Rows of every shown view, recomputed from records and their ids."""
    book = read(records)
    plants = lives.plants(book)
    harvest = entries.harvest_rows(book, plants)
    found = seasons.seasons(book, plants, harvest)
    sites = {life.name: life.site for life in plants}
    total = {key_of(season): totals.totals_row(book, harvest, season, sites) for season in found}
    curve = curves.curves(found, harvest, total)
    timed = {key_of(season): curves.timing(curve.get(key_of(season))) for season in found}
    grown = {key_of(s): seasons.plant_seasons_row(book, s, _stay(book, plants, s, timed[key_of(s)])) for s in found}
    units, seed = _units(harvest), list(entries.seed_view(book, plants))
    parted = {life.name: entries.parted_seasons(harvest, life) for life in plants}
    return {
        "sites": list(entries.sites_view(book)),
        "beds": list(entries.beds_view(book)),
        "plants": list(lives.plants_view(plants)),
        "life": list(lives.life_view(plants, harvest)),
        "flowering": list(entries.flowering_view(book, plants)),
        "care": list(entries.care_view(book, plants)),
        "standing": list(standing_view(book, plants)),
        "trial_arms": list(entries.trial_arms_view(book, plants)),
        "weather": list(entries.weather_view(book)),
        "degree_days": list(entries.degree_days_view(book, plants)),
        "seed": seed,
        "parentage": list(parentage_view(book, plants, seed)),
        "plant_seasons": list(grown.values()),
        "root_winters": list(winters.root_winters_view(book, plants, found, harvest)),
        "season_totals": list(total.values()),
        "season_efforts": [
            efforts.row(book, plants, harvest, [other for other in found if other.life is season.life], season)
            for season in found
        ],
        "open_questions": list(questions.questions_view(book, plants, found, harvest, list(grown.values()))),
        "season_curves": [
            row for key, one in curve.items() if one.measure for row in curves.curve_rows(one, grown[key])
        ],
        "season_summary": [
            row | water.given(book, plants, season, row["space_m2"])
            | {"parted": season.year in parted[season.life.name]}
            for season in found
            for key in [key_of(season)]
            for share in [_share_of_bed(book, found, timed, grown, key)]
            for row in [_summary_row(book, season, grown[key], total[key], timed[key], units, share)]
        ],
        "harvest": [{name: row[name] for name in row if name not in ("crop_taken", "carried")} for row in harvest],
    }  # fmt: skip


def key_of(season: Season) -> Key:
    """Plant and season."""
    return season.life.name, season.year


def _stay(book: Book, plants: list[Plant], season: Season, timed: Row) -> places.Stay | None:
    """Where it stood from its first growth up to half its crop (at least to the first picking), as far as books go."""
    first = max([season.first_day, *season.signs[:1]])
    ended = season.ended or season.last_day
    half = max((day for day in (timed["t50"], timed["first_pick"]) if day and timed["t50"]), default=None)
    last = min(half or timed["last_pick"] or ended, ended, book.horizon or date.max)
    first = min(first, last)
    seen = places.stay(book, plants, season.life, first, last)
    # picked for the first time on the day it was lifted, or replanted elsewhere: where it stood that morning
    if (seen is None or first == last) and season.signs and season.signs[0] >= season.first_day:
        return places.stay(book, plants, season.life, first - timedelta(1), first - timedelta(1)) or seen
    return seen


def _units(harvest: list[Row]) -> dict[Key, set[str]]:
    """Plants linked, one to the next, by pickings off several of them in a season."""
    units: dict[Key, set[str]] = {}
    pickings: dict[tuple[str, int], set[str]] = {}
    for row in harvest:
        if row["event"] == "picked" and row["crop_taken"] and row["shared_by"] > 1:
            pickings.setdefault((row["record_id"], row["season"]), set()).add(row["plant"])
    for (_, season), together in pickings.items():
        merged = set(together)
        for plant in together:
            merged |= units.get((plant, season), set())
        for plant in merged:
            units[plant, season] = merged
    return units


def _summary_row(
    book: Book, season: Season, row: Row, total: Row, timed: Row, units: dict[Key, set[str]], share: float | None
) -> Row:
    unit = units.get((row["plant"], row["season"]), {row["plant"]})
    ground = row["space_m2"] or share
    ground = None if row["container"] else ground
    kept = (
        "label", "season", "crop", "cultivar", "plant_season", "raised_from", "stock", "wintering", "site", "bed",
        "cover", "moved", "finished", "plant", "season_name", "container", "planted_on", "kept_root", "grew",
        "ended_how",
    )  # fmt: skip
    taken = (
        "total_g", "count", "left_for_seed", "left_uncounted",
        "spans_left_out", "unweighed", "shared_g", "shared_count", "clearance_g",
        "clearance_count", "measure",
    )  # fmt: skip
    undated = total["measure"] is not None and timed["picks"] == 0
    plants = seasons.standing(season.life, timed["first_pick"] or season.last_day)
    return {"plants": plants} | {name: row[name] for name in kept} | {name: total[name] for name in taken} | timed | {
        "unit": min(unit), "sharing": len(unit), "space_m2": ground,
        "peak_g_per_day": timed["peak_per_day"] if total["measure"] == "g" else None,
        "g_per_m2": _on_ground(
            total["total_g"], ground, book.beds[row["bed"]].area_m2 if row["bed"] and not row["container"] else None),
        "withheld": "dates and rates: no picking dated to 14 days" if undated else timed["withheld"],
    }  # fmt: skip


def _on_ground(total_g: Any, ground: float | None, bed_m2: float | None) -> Any:
    """Crop a square metre. Nothing off any part of a bed whose area is known is nothing."""
    if total_g == 0 and bed_m2:
        return 0
    return None if ground is None or total_g is None else total_g / Fraction(ground)


def _share_of_bed(
    book: Book, found: list[Season], timed: dict[Key, Row], grown: dict[Key, Row], key: Key
) -> float | None:
    """The bed's area over the plants standing in it at first pick, times its own; missing when it was elsewhere.

    A plant that left the bed that very day had stood there in the morning; one first recorded that day, or first picked
    that day in its bed of the season, stood there too.
    """
    bed, first_pick = grown[key]["bed"], timed[key]["first_pick"]
    if first_pick is None or bed is None or book.beds[bed].area_m2 is None:
        return None
    standing = {
        season.life.name: seasons.standing(season.life, first_pick)
        for season in found
        if bed == places.bed_on(season.life, first_pick - timedelta(1))
        or (bed == places.bed_on(season.life, first_pick) and (
            (season.life.origin == "already here" and season.life.began == first_pick)
            or (grown[key_of(season)]["bed"] == bed and timed[key_of(season)]["first_pick"] == first_pick)
        ))
    }  # fmt: skip
    if key[0] not in standing:
        return None
    return book.beds[bed].area_m2 * standing[key[0]] / sum(standing.values())
