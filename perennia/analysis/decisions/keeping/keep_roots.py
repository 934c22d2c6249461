"""What the books say of a root besides its crop: weight, condition, disease, and words to be read by the grower.

A veto comes only from a field with fixed choices: a root last found rotten, or virus noted as damage to the plant
itself. What a grower wrote in words is quoted, never read as a disease. That a plant with virus is not kept nor set
near others, since nothing cures it and aphids carry it on, that divisions and cuttings have it from their mother, and
that rot spreads in a box: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.units import Row, rows_of
from perennia.checking.words import days, days_in_cell
from perennia.lifecycle import ENDED

if TYPE_CHECKING:
    from perennia.source import Source

_LIVES = "select plant, label, mother, season_starts, ended_on, ended_how from plants where crop = ?"
_LIFE = "select * from life where crop = ? order by plant, ordinal"
_CARE = (
    "select care.* from care left join plants on care.plant = plants.plant "
    "where (plants.crop = ? or care.bed is not null) and event in ('damage', 'noted') order by care.on_to"
)
_NOTES = "select plant, event, on_from, on_to, note from harvest where crop = ? and note is not null order by on_to"

DISEASES = ("virus", "fungus", "bacteria")
"""Causes of damage that are diseases; virus alone is a veto."""
_ILL = re.compile(r"\b(virus|mosaic|rot|rots|rotten|rotting|mould|mold|canker|wilt|blight)", re.IGNORECASE)
_FLAVOUR = re.compile(r"\b(flavou?r|tast|sweet|bitter|string|tough|tender)", re.IGNORECASE)
_ROOTED = ("lifted", "store_checked")
_GROWING = ("replanted", "regrew", "planted", "emerged")


@attrs.frozen(kw_only=True)
class Root:
    """What is on record of one living plant up to the winter after the season.

    root_g: last weight of its root, taken on weighed_on; old where that was before the season. condition: last found
    since the season began, on condition_on. broken: whether roots broke at the last lifting. box: where it is stored
    now, wintering aside. veto: why it must not be kept. look_at: what to look at before it is. words: the grower's own
    words on why it is kept and how it tastes.
    """

    root_g: float | None = None
    weighed_on: date | None = None
    old: bool = False
    condition: str | None = None
    condition_on: date | None = None
    broken: bool | None = None
    box: str | None = None
    veto: str | None = None
    look_at: tuple[str, ...] = ()
    words: tuple[str, ...] = ()


@attrs.frozen(kw_only=True, eq=False)
class RootBooks:
    """The roots by plant, and what became of plants of the crop since, by plant: how each ended, in words."""

    roots: Mapping[str, Root]
    ended: Mapping[str, str]


def root_books(source: Source, crop: str, season: int, living: Sequence[Row]) -> RootBooks:
    """What is on record of the plants of a crop that have these rows of season_summary in the season."""
    lives = {str(row["plant"]): row for row in rows_of(source.sql(_LIVES, [crop]))}
    life = _grouped(rows_of(source.sql(_LIFE, [crop])), "plant")
    care = rows_of(source.sql(_CARE, [crop]))
    of_plants, of_beds = _grouped(care, "plant"), _grouped(care, "bed")
    notes = _grouped(rows_of(source.sql(_NOTES, [crop])), "plant")
    ended = {plant: _ended(row, life.get(plant, [])) for plant, row in lives.items() if row["ended_how"] is not None}
    roots = {}
    for row in living:
        plant = str(row["plant"])
        first, last = season_days(season, str(lives[plant]["season_starts"]) if plant in lives else "01-01")
        root = root_of(
            life.get(plant, []), of_plants.get(plant, []), of_beds.get(row["bed"] or "", []), notes.get(plant, []),
            first, last,
        )  # fmt: skip
        mother = lives[plant]["mother"] if plant in lives else None
        inherited = [f"virus was recorded on its mother {mother} {_when(one)}"
                     for one in of_plants.get(mother or "", []) if one["cause"] == "virus"]  # fmt: skip
        roots[plant] = attrs.evolve(root, look_at=(*root.look_at, *inherited))
    return RootBooks(roots=roots, ended=ended)


def root_of(
    life: Sequence[Row], care: Sequence[Row], bed: Sequence[Row], notes: Sequence[Row], first: date, last: date
) -> Root:
    """A root from rows of life, of care for the plant and for its bed, and of harvest with notes.

    first, last: days of the season. What came after its next growth says nothing of the choice and is left out.
    """
    again = min((day for one in life if one["event"] in _GROWING and (day := _day(one["on"])) > last), default=None)
    until = date.max if again is None else again - timedelta(1)
    lived = [one for one in life if not one["inferred"] and _day(one["on"]) <= until]
    rooted = [one for one in lived if one["event"] in _ROOTED]
    weighed = next((one for one in reversed(rooted) if one["root_g"] is not None), None)
    seen = next((one for one in reversed(rooted) if one["condition"] is not None and _day(one["on"]) >= first), None)
    lifted = next((one for one in reversed(rooted) if one["event"] == "lifted" and _day(one["on"]) >= first), None)
    stored = next((one for one in reversed(lived) if one["event"] == "stored" and _day(one["on"]) >= first), None)
    cared = [one for one in care if _day(one["on_to"]) <= until]
    vetoes = [f"virus was recorded on this plant {_when(one)}" for one in cared if one["cause"] == "virus"]
    if seen is not None and seen["condition"] == "rotten":
        vetoes.append(f"its root was found rotten {_when(seen)}")
    noted = [one for one in [*lived, *cared, *notes] if _day(one.get("on_to") or one["on"]) <= until]
    return Root(
        root_g=None if weighed is None else float(weighed["root_g"]),
        weighed_on=None if weighed is None else _day(weighed["on"]),
        old=weighed is not None and _day(weighed["on"]) < first,
        condition=None if seen is None else str(seen["condition"]),
        condition_on=None if seen is None else _day(seen["on"]),
        broken=None if lifted is None else lifted["roots_broken"],
        box=None if stored is None else stored["box"],
        veto="; ".join(dict.fromkeys(vetoes)) or None,
        look_at=tuple(dict.fromkeys([
            *_conditions(rooted, seen), *_diseases(cared, "this plant"),
            *_diseases([one for one in bed if _day(one["on_to"]) <= until], "its bed", whole=True),
            *_quoted(noted, _ILL, ("note", "what", "cause")),
        ])),
        words=tuple(dict.fromkeys([
            *(f'kept because "{one["kept_because"]}" ({_when(one, days_in_cell)})'
              for one in lived if one["kept_because"]),
            *_quoted(noted, _FLAVOUR, ("note", "what")),
        ])),
    )  # fmt: skip


def season_days(season: int, starts: str) -> tuple[date, date]:
    """First and last day of a growing year."""
    return date.fromisoformat(f"{season}-{starts}"), date.fromisoformat(f"{season + 1}-{starts}") - timedelta(1)


def _grouped(rows: Sequence[Row], name: str) -> dict[str, list[Row]]:
    """The rows by what they have under a name, without those that have nothing."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        if row[name] is not None:
            found.setdefault(str(row[name]), []).append(row)
    return found


def _day(value: Any) -> date:
    day: date = pd.Timestamp(value).date()
    return day


def _when(row: Row, said: Callable[[date | None, date | None], str] = days) -> str:
    """When a thing happened, as the book has it."""
    first, last = (None if row[name] is None else _day(row[name]) for name in ("on_from", "on_to"))
    return said(first, last)


def _conditions(rooted: Sequence[Row], last: Row | None) -> list[str]:
    """Earlier rot, and a root last found soft."""
    said = [f"its root was found rotten {_when(one)}" for one in rooted
            if one["condition"] == "rotten" and one is not last]  # fmt: skip
    if last is not None and last["condition"] == "soft":
        said.append(f"its root was found soft {_when(last)}")
    return said


def _diseases(care: Sequence[Row], what: str, *, whole: bool = False) -> list[str]:
    """Diseases on record that are no veto by themselves; virus too where it was noted for a whole bed."""
    causes = DISEASES if whole else [cause for cause in DISEASES if cause != "virus"]
    return [f"{one['cause']} was recorded on {what} {_when(one)}" for one in care if one["cause"] in causes]


def _quoted(rows: Sequence[Row], pattern: re.Pattern[str], fields: Sequence[str]) -> list[str]:
    return [
        f'"{one[field]}" ({_when(one, days_in_cell)})'
        for one in rows for field in fields
        if one.get(field) and not (field == "cause" and one["event"] == "damage") and pattern.search(str(one[field]))
    ]  # fmt: skip


def _ended(row: Row, life: Sequence[Row]) -> str:
    words = next((str(one[field]) for one in reversed(life) for field in ("cause", "reason") if one[field]), None)
    end = next(one for one in reversed(life) if one["state"] == ENDED)
    return f"{row['ended_how']} {_when(end)}" + (f' ("{words}")' if words else "")
