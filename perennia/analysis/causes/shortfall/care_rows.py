"""Care given to the plants asked for, by their label or by their bed, in one season."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import days

if TYPE_CHECKING:
    from perennia.source import Source

_YEAR_DAYS = 364
_CARE = "select * from care where event = ? order by on_to, record_id, label"


def care_rows(source: Source, asked: Asked, event: str) -> list[Row]:
    """Rows of the view care of one event that reached these plants in the season, up to the last day on which they
    flowered; one a label of a record, or one a bed.

    A record on a bed counts for what stood in it. The season begins with the growing year, or with a sowing ahead of
    it: a bed is fed before it is sown. A lasting one (until) counts as long as it lasts.
    """
    return [row for row in reaching_rows(source, asked, event) if _this_season(asked, row)]


def reaching_rows(source: Source, asked: Asked, event: str) -> list[Row]:
    """Rows of the view care of one event on these plants or their beds, whenever it was."""
    plants, beds = set(asked.plants), set(asked.beds)
    rows = rows_of(source.sql(_CARE, [event]))
    return [row for row in rows if row["plant"] in plants or row["bed"] in beds]


def harm_rows(source: Source, asked: Asked) -> list[Row]:
    """Harm to these plants in the season, one row a record."""
    return each_once(care_rows(source, asked, "damage"))


def each_once(rows: Iterable[Row]) -> list[Row]:
    """One row a record: care of several labels has one for each of them, with what was seen at all of them together."""
    return list({row["record_id"]: row for row in rows}.values())


def to_the_day(row: Row) -> bool:
    """Whether a record is of one day, and no span of days of which nobody knows which it was."""
    return bool(row["on_from"] is not None and day_of(row["on_from"]) == day_of(row["on_to"]))


def when(row: Row) -> str:
    """The day or span of a record in words."""
    return days(row["on_from"] and day_of(row["on_from"]), day_of(row["on_to"]))


def reached(asked: Asked, rows: Iterable[Row]) -> set[str]:
    """Plants that the care reached, by their label or through their bed."""
    every = list(rows)
    named = {str(row["plant"]) for row in every if row["plant"] is not None}
    beds = {row["bed"] for row in every if row["bed"] is not None}
    return {str(row["plant"]) for row in asked.rows if row["plant"] in named or row["bed"] in beds}


def season_begins(asked: Asked) -> date:
    """The first day of the growing year, or that of the first sowing or planting ahead of it."""
    started = [day_of(row["planted_on"]) for row in asked.rows if row["planted_on"] is not None]
    return min([asked.season_first, *started])


def _this_season(asked: Asked, row: Row) -> bool:
    last = asked.last or asked.season_first + timedelta(_YEAR_DAYS)
    begun, ended = day_of(row["on_from"] or row["on_to"]), day_of(row["until"] or row["on_to"])
    return bool(season_begins(asked) <= ended and begun <= last)
