"""Care given to the plants asked for, by their label or by their bed, in one season."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

_CARE = "select * from care where event = ? order by on_to, record_id, label"
_SEASON_DAYS = 366


def care_rows(source: Source, asked: Asked, event: str) -> list[Row]:
    """Rows of the view care of one event that reached these plants, up to the last day on which they flowered.

    A record on a bed counts for what stood in it; one of a season before does not, a lasting one (until) does.
    """
    plants, beds = set(asked.plants), set(asked.beds)
    return [
        row for row in rows_of(source.sql(_CARE, [event]))
        if (row["plant"] in plants or row["bed"] in beds) and _this_season(asked, row)
    ]  # fmt: skip


def _this_season(asked: Asked, row: Row) -> bool:
    begun, ended = day_of(row["on_to"]), row["until"]
    started = [day_of(one["planted_on"]) for one in asked.rows if one["planted_on"] is not None]
    last = asked.last
    if last is not None and begun > last:
        return False
    first = min(started, default=None) or (asked.first and asked.first - timedelta(_SEASON_DAYS // 2))
    if first is None:
        return begun.year == asked.season
    return begun >= first or (ended is not None and day_of(ended) >= first)
