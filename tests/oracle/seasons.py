"""A plant's seasons: in which it lived or was kept for, how it wintered, whether it grew, and whether it is over."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import attrs

from tests.oracle.book import Book, Row, is_day, season_begins, season_ends, season_name, season_of
from tests.oracle.entries import longest_gap_days, plant_of, run_stops
from tests.oracle.lives import Plant, Turn, begun_plants
from tests.oracle.places import Stay, bed_on

_GROWTH = ("sown", "acquired_plant", "cutting", "emerged", "planted", "regrew", "flowered", "cutting_taken")
_RESTING = ("lifted", "stored_bare", "stored_pot", "store_checked", "mulched", "died_back_whole", "died")
_AT_REST = ("lifted", "stored", "dormant", "sheltered")


@attrs.define
class Season:
    """One plant in one season. signs are the days on which it showed itself in growth."""

    life: Plant
    year: int
    signs: list[date]
    older: bool
    kept_root: bool
    wintering: str | None
    plant_season: int | None
    grew: bool | None
    finished: bool

    @property
    def first_day(self) -> date:
        """First day of the growing year."""
        return season_begins(self.year, self.life.starts)

    @property
    def last_day(self) -> date:
        """Last day of the growing year."""
        return season_ends(self.year, self.life.starts)

    @property
    def ended(self) -> date | None:
        """Day of the plant's end, once ended by the season's last day."""
        return self.life.ended if self.life.ended and self.life.ended <= self.last_day else None

    @property
    def raised_from(self) -> str | None:
        """What the plant was raised from."""
        return "own root" if self.older else None if self.life.origin == "already here" else self.life.origin

    @property
    def stock(self) -> str | None:
        """Fresh, overwintered, or what it was raised from."""
        if self.older:
            return "overwintered"
        return {"seed": "fresh", "already here": None}.get(self.life.origin, self.life.origin)


def seasons(book: Book, lives: list[Plant], harvest: list[Row]) -> list[Season]:
    """Every plant and season."""
    found = [season for life in lives for season in _seasons_of(book, life, growth_signs(book, lives, life, harvest))]
    for season in found:
        crops = [row["on"] for row in harvest if row["plant"] == season.life.name and row["crop_taken"]
                 and row["season"] == season.year]  # fmt: skip
        season.finished = _finished(book, season, max(crops, default=None))
    return found


def growth_signs(book: Book, lives: list[Plant], life: Plant, harvest: list[Row]) -> dict[int, list[date]]:
    """Days of growth by season: acts only a growing plant shows, crops taken, flowers."""
    signs: dict[int, list[date]] = {}
    for turn in life.turns:
        if turn.act.act in _GROWTH:
            ahead = life.ahead_days if turn.act.act == "sown" else 0
            signs.setdefault(season_of(turn.day + timedelta(ahead), life.starts), []).append(turn.day)
    for row in harvest:
        if row["plant"] == life.name and row["crop_taken"]:
            signs.setdefault(row["season"], []).append(row["on"])
    for entry in book.entries["flowering"]:
        if plant_of(lives, entry.labels[0], entry) is life:
            signs.setdefault(season_of(entry.last, life.starts), []).append(entry.last)
    return signs


def first_season(life: Plant) -> int:
    """The season a plant began in; a sowing shortly before a season is of that season."""
    ahead = life.ahead_days if life.origin == "seed" else 0
    return season_of(life.began + timedelta(ahead), life.starts)


def rests_of(life: Plant, signs: dict[int, list[date]]) -> list[tuple[Turn, int]]:
    """Acts that belong to a winter, each with the season that winter leads into.

    The next season once the plant has grown in this one, or when half a year has gone by without a sign of growth.
    """
    found: list[tuple[Turn, int]] = []
    for turn in life.turns:
        if turn.act.act not in _RESTING:
            continue
        own = season_of(turn.day, life.starts)
        grown = any(day <= turn.day for day in signs.get(own, []))
        late = (turn.day - season_begins(own, life.starts)).days > 182
        into = own + 1 if grown or late else own
        if turn.act.act == "died" and turn.before in _AT_REST:
            # however late it was found, it belongs to the rest it ended
            into = found[-1][1] if found else own
        found.append((turn, into))
    return found


def _seasons_of(book: Book, life: Plant, signs: dict[int, list[date]]) -> Iterator[Season]:
    first = first_season(life)
    horizon = book.horizon or life.began
    last = max(first, season_of(life.ended or max(horizon, life.began), life.starts))
    rests = rests_of(life, signs)
    lost = [into for turn, into in rests if turn.act.act == "died" and turn.before in _AT_REST]
    for year in range(first, max([last, *lost]) + 1):
        yield _season(book, life, year, first, signs, [turn for turn, into in rests if into == year])


def _season(
    book: Book, life: Plant, year: int, first: int, signs: dict[int, list[date]], winter: list[Turn]
) -> Season:
    record: Any = life.first.act.record
    since, given = getattr(record, "since", None), getattr(record, "plant_season", None)
    here_before = life.origin == "already here" and (
        (since is not None and season_of(since.end, life.starts) < first) or (given or 1) > 1
    )
    older = year > first or here_before
    season = Season(
        life, year, sorted(signs.get(year, [])), older, older and year > first, None, None, None, False
    )  # fmt: skip
    season.plant_season = _plant_season(life, year, first)
    season.wintering = _wintering(book, season, year > first, winter) if older else None
    season.grew = _grew(season, signs)
    return season


def _plant_season(life: Plant, year: int, first: int) -> int | None:
    record: Any = life.first.act.record
    since, given = getattr(record, "since", None), getattr(record, "plant_season", None)
    if given is not None:
        return int(given) + year - first
    if life.origin == "bought root":
        return None
    if life.origin == "already here":
        if since is None or since.start is None:
            return None
        began = season_of(since.start, life.starts)
        return year - began + 1 if began == season_of(since.end, life.starts) else None
    return year - first + 1


def _wintering(book: Book, season: Season, after_first: bool, winter: list[Turn]) -> str:
    done = {turn.act.act for turn in winter}
    kept = [turn.act.record.protection for turn in winter if turn.act.act in ("stored_bare", "stored_pot")]
    protection = [text for text in kept if text is not None][-1:]
    if "stored_pot" in done:
        return ", ".join(["pot", *protection])
    if done & {"lifted", "stored_bare"}:
        return ", ".join(["bare root", *protection])
    bed = bed_on(season.life, season.first_day)
    place = "ground" if bed is None or book.beds[bed].container is None else "pot"
    if "mulched" in done:
        return f"{place}, mulch"
    if after_first and bed is not None and season.signs:
        return place
    return "unknown"


def _grew(season: Season, signs: dict[int, list[date]]) -> bool | None:
    if season.signs:
        return True
    if season.ended is not None:
        return False
    return True if any(year > season.year for year in signs) else None


def _finished(book: Book, season: Season, last_crop: date | None) -> bool:
    """The next season has begun, the plant has ended, or it is at rest and was not seen growing since."""
    life = season.life
    if book.horizon is not None and season_of(book.horizon, life.starts) > season.year:
        return not _may_still_bear(book.horizon, season, last_crop)
    if season.ended is not None or (life.ended is not None and life.ended < season.first_day):
        return True
    past = [turn for turn in life.turns if turn.day <= season.last_day]
    at_rest = bool(past) and past[-1].after in ("dormant", "lifted", "stored")
    return at_rest and bool(season.signs) and max(season.signs) <= past[-1].day


def _may_still_bear(horizon: date, season: Season, last_crop: date | None) -> bool:
    """Whether the next picking may still belong to a run that began before the season's last day."""
    life = season.life
    if last_crop is None or life.ended is not None or any(stop >= last_crop for stop in run_stops(life)):
        return False
    recent = (horizon - last_crop).days <= longest_gap_days(life)
    return recent and (horizon - season.last_day).days <= 60


def plant_seasons_row(book: Book, season: Season, stay: Stay | None) -> Row:
    """One row of plant_seasons."""
    life = season.life
    past = [turn for turn in life.turns if turn.day <= season.last_day]
    near = [turn for turn in past if is_day(turn.act.entry.first, turn.act.entry.last)]
    spaces = [turn.act.record.space_m2 for turn in past if getattr(turn.act.record, "space_m2", None) is not None
              and turn.act.mother is None and _given_here(life, turn, stay)]  # fmt: skip
    regrown = [t.day for t in near if t.act.act == "regrew" and t.day >= season.first_day]
    sown = [turn.day for turn in near if turn.act.act == "sown"]
    set_out = [t.day for t in near if (_planted(t) or t.act.act == "moved")
               and t.day >= season.first_day - timedelta(60)]  # fmt: skip
    planted = [turn.day for turn in near if _planted(turn)]
    return {
        "plant": life.name, "label": life.label, "season": season.year, "crop": life.crop, "cultivar": life.cultivar,
        "plant_season": season.plant_season, "raised_from": season.raised_from, "stock": season.stock,
        "wintering": season.wintering, "mother": life.mother, "site": stay.place.site if stay else life.site,
        "bed": stay.place.bed if stay else None, "cover": stay.place.cover if stay else None,
        "container": stay.place.container if stay else None, "moved": stay.moved if stay else False,
        "plants": standing(life, season.last_day), "space_m2": spaces[-1] if spaces else None,
        "planted_on": max(set_out, default=min(sown if season.stock == "fresh" else regrown, default=None)),
        "regrew_on": min(regrown, default=None),
        "started_on": min(regrown, default=None) if season.older else min(planted or sown, default=None),
        "kept_root": season.kept_root, "grew": season.grew, "ended_on": season.ended,
        "ended_how": life.ended_how if season.ended else None,
        "season_name": season_name(season.year, life.starts), "finished": season.finished,
    }  # fmt: skip


def _given_here(life: Plant, turn: Turn, stay: Stay | None) -> bool:
    """Whether ground given with an act can be that of the season's bed."""
    beds = [other.act.bed for other in life.turns if other.number <= turn.number and other.act.bed is not None]
    return not beds or (stay is not None and beds[-1] == stay.place.bed)


def _planted(turn: Turn) -> bool:
    """Whether an act put the plant in its place: planting, replanting, or a beginning in a bed, sowing apart."""
    if turn.act.act in ("planted", "replanted"):
        return True
    return turn.act.act in ("acquired_plant", "acquired_root_set", "division_set", "cutting") and _begins_in_bed(turn)


def _begins_in_bed(turn: Turn) -> bool:
    return turn.act.bed is not None


def standing(life: Plant, day: date) -> int:
    """Plants under the label at the end of a day: the last count, else what it began with."""
    counted = [turn.act.record.alive for turn in life.turns
               if turn.day <= day and turn.act.act in ("counted", "emerged")]  # fmt: skip
    known = [alive for alive in counted if alive]
    return known[-1] if known else begun_plants(life)


