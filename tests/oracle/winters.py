"""Every root's winters, plant by plant: the view root_winters."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import attrs

from perennia import crops
from tests.oracle.book import Book, Row, season_begins, season_name, season_of
from tests.oracle.entries import plant_of
from tests.oracle.lives import Plant, Turn, begun_plants
from tests.oracle.places import bed_on
from tests.oracle.seasons import Season, first_season, growth_signs, rests_of, standing

_SHOWS_GROWTH = ("emerged", "flowered", "cutting_taken")
_AT_REST = ("dormant", "lifted", "stored")
_HANDLED = ("planted", "moved", "replanted", "mulched", "stored_bare", "stored_pot", "store_checked")


@attrs.frozen
class Sign:
    """A day on which a plant was seen alive, and the season that is about."""

    season: int
    on: date
    resting: bool
    regrowth: bool
    grown: bool


def root_winters_view(book: Book, lives: list[Plant], found: list[Season], harvest: list[Row]) -> Iterator[Row]:
    """Rows of root_winters."""
    for life in lives:
        rests = rests_of(life, growth_signs(book, lives, life, harvest))
        signs = list(_signs(book, lives, life, harvest, {turn.number: into for turn, into in rests}))
        own = {season.year: season for season in found if season.life is life}
        kept = {year for year, season in own.items() if season.kept_root}
        rested = {into for turn, into in rests if turn.act.act != "died" and into > first_season(life)}
        for year in sorted(kept | rested):
            begins = season_begins(year, life.starts)
            if not any(sign.on < begins or (sign.resting and sign.season == year) for sign in signs):
                continue
            row = _row(book, life, year, signs, [turn for turn, into in rests if into == year])
            yield row | {"plant_season": own[year].plant_season if year in own else None}
            if row["outcome"] != "survived":
                break


def _signs(
    book: Book, lives: list[Plant], life: Plant, harvest: list[Row], leads_into: dict[int, int]
) -> Iterator[Sign]:
    for turn in life.turns:
        act = turn.act.act
        if act in ("sown", "died", "removed") or getattr(turn.act.record, "condition", None) == "rotten":
            continue
        season = leads_into.get(turn.number, season_of(turn.day, life.starts))
        late = turn.day >= season_begins(season, life.starts) + timedelta(60)
        regrowth = act == "regrew" or (act in _SHOWS_GROWTH and (turn.before in _AT_REST or late))
        yield Sign(season, turn.day, turn.number in leads_into, regrowth, act not in _HANDLED)
    for row in harvest:
        if row["plant"] == life.name and row["crop_taken"]:
            yield Sign(row["season"], row["on"], False, True, True)
    for entry in book.entries["flowering"]:
        if plant_of(lives, entry.labels[0], entry) is life:
            season = season_of(entry.last, life.starts)
            late = entry.last >= season_begins(season, life.starts) + timedelta(60)
            yield Sign(season, entry.last, False, late, True)


def _row(book: Book, life: Plant, year: int, signs: list[Sign], winter: list[Turn]) -> Row:
    begins = season_begins(year, life.starts)
    regrow_by = _regrow_by(book, life, year)
    survived = any(
        sign.season > year or (sign.season == year and sign.regrowth)
        or (sign.grown and regrow_by is not None and sign.on > regrow_by)
        for sign in signs
    )  # fmt: skip
    last_alive = max(sign.on for sign in signs)
    day = begins if life.ended is None else min(begins, life.ended - timedelta(1))
    bed = bed_on(life, day) if life.began <= day else None
    place = book.beds[bed] if bed is not None else None
    stored = [turn.act.record for turn in winter if turn.act.act in ("stored_bare", "stored_pot")]
    boxes = [record.box for record in stored if record.box is not None]
    counted = [(turn.day, turn.act.record.alive) for turn in life.turns if turn.act.act in ("counted", "emerged")
               and turn.act.record.alive and season_of(turn.day, life.starts) == year]  # fmt: skip
    first = min((on for on, _ in counted), default=None)
    return {
        "plant": life.name, "label": life.label, "season": year, "season_name": season_name(year, life.starts),
        "crop": life.crop, "cultivar": life.cultivar,
        "raised_from": None if life.origin == "already here" else life.origin,
        "wintering": _wintering(winter, bed is not None, place.container if place else None),
        "site": place.site if place else life.site, "bed": bed, "container": place.container if place else None,
        "box": boxes[-1] if boxes else None,
        "plants": standing(life, begins - timedelta(1)) if life.began < begins else begun_plants(life),
        "plants_after": [alive for on, alive in counted if on == first][-1] if counted else None,
        "entered_on": min((turn.day for turn in winter if turn.act.act != "died"), default=None),
        "outcome": _outcome(book, life, survived, regrow_by, last_alive),
        "last_alive_on": None if survived else last_alive,
        "ended_on": None if survived else life.ended,
        "regrow_by": regrow_by,
    }  # fmt: skip


def _regrow_by(book: Book, life: Plant, year: int) -> date | None:
    """The first day of the season on which the crop's latest regrowth falls, half a year later south of the equator."""
    profile = crops.profile(life.crop or "")
    if profile is None or profile.latest_regrowth is None:
        return None
    month, day = int(profile.latest_regrowth.value[:2]), int(profile.latest_regrowth.value[3:])
    if life.site is not None and (book.sites[life.site].latitude or 0) < 0:
        month = (month + 5) % 12 + 1
        last = (date(2001, month % 12 + 1, 1) - timedelta(1)).day
        day = min(day, last)
    begins = season_begins(year, life.starts)
    here = date(year, month, day)
    return here if here >= begins else date(year + 1, month, day)


def _wintering(winter: list[Turn], stood: bool, container: str | None) -> str:
    done = {turn.act.act for turn in winter}
    stored = [turn.act.record.protection for turn in winter if turn.act.act in ("stored_bare", "stored_pot")]
    protection = [text for text in stored if text is not None][-1:]
    if "stored_pot" in done:
        return ", ".join(["pot", *protection])
    if done & {"lifted", "stored_bare"}:
        return ", ".join(["bare root", *protection])
    place = "ground" if container is None else "pot"
    if "mulched" in done:
        return f"{place}, mulch"
    return place if stood else "unknown"


def _outcome(book: Book, life: Plant, survived: bool, regrow_by: date | None, last_alive: date) -> str:
    if survived:
        return "survived"
    if life.ended_how == "died":
        return "died"
    seen_until = life.ended or book.horizon
    if regrow_by is not None and seen_until is not None and last_alive <= regrow_by < seen_until:
        return "not regrown"
    return "left" if life.ended else "open"
