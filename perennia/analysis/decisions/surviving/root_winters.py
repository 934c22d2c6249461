"""A root's winters: what each was, and what is known of its end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.decisions.surviving.shares import Share, share_of_boxes
from perennia.analysis.units import rows_of
from perennia.checking import arguments

if TYPE_CHECKING:
    from perennia.source import Source

SURVIVED, DIED, NOT_REGROWN, LEFT, OPEN = "survived", "died", "not regrown", "left", "open"
OUTCOMES = (SURVIVED, DIED, NOT_REGROWN, LEFT, OPEN)
UNKNOWN = "unknown"
"""The wintering that nothing on record shows."""
IN_STORE = ("bare root", "pot")
_WINTERS = "select * from root_winters where crop = coalesce(?, crop) order by plant, season"
_NEAR_DAYS = 14


@attrs.frozen
class Winter:
    """One root and one winter it entered; fields as the columns of root_winters, winter being the season it leads into.

    outcome: one of OUTCOMES. A root not regrown counts as dead, one that left or is open as neither.
    """

    plant: str
    label: str
    crop: str
    cultivar: str | None
    winter: int
    winter_name: str
    plant_season: int | None
    raised_from: str | None
    wintering: str
    site: str | None
    bed: str | None
    container: str | None
    box: str | None
    plants: int
    plants_after: int | None
    entered_on: date | None
    outcome: str
    last_alive_on: date | None
    ended_on: date | None
    regrow_by: date | None

    @property
    def alive(self) -> bool:
        """Whether it came through."""
        return self.outcome == SURVIVED

    @property
    def dead(self) -> bool:
        """Whether it died, or shows by its silence that it did."""
        return self.outcome in (DIED, NOT_REGROWN)

    @property
    def decided(self) -> bool:
        """Whether it is known that it came through or that it did not."""
        return self.alive or self.dead

    @property
    def dead_by(self) -> date | None:
        """Where it died, the day by which it had: found dead, or the latest regrowth gone by."""
        return self.ended_on if self.outcome == DIED else self.regrow_by if self.outcome == NOT_REGROWN else None

    @property
    def interval_censored(self) -> bool:
        """Whether its death is known only to lie between two days more than a fortnight apart."""
        if self.dead_by is None or self.last_alive_on is None:
            return self.dead
        return (self.dead_by - self.last_alive_on).days >= _NEAR_DAYS

    @property
    def in_store(self) -> bool:
        """Whether it was wintered lifted or in a pot."""
        return self.wintering.startswith(IN_STORE)

    @property
    def cluster(self) -> tuple[object, ...]:
        """Roots with the same one shared a box that winter; without a box named a root is taken to stand for itself."""
        return (self.plant, self.winter) if self.box is None else ("box", self.site, self.box, self.winter)


def winters_of(source: Source, crop: str | None = None) -> list[Winter]:
    """Every root and winter on record, of one crop or of all, by plant and winter. Raises ArgumentError."""
    named = None if crop is None else arguments.a_name(crop, "crop")
    return winters_in(source.sql(_WINTERS, [named]))


def winters_in(frame: pd.DataFrame) -> list[Winter]:
    """The winters that rows of root_winters are."""
    return [_winter(dict(row)) for row in rows_of(frame)]


def boxes_of(winters: Iterable[Winter]) -> list[tuple[int, int]]:
    """The roots alive and all whose winter is decided, box by box; a root that shared none is one of its own."""
    boxes: dict[tuple[object, ...], list[bool]] = {}
    for winter in winters:
        if winter.decided:
            boxes.setdefault(winter.cluster, []).append(winter.alive)
    return [(sum(alive), len(alive)) for alive in boxes.values()]


def share_alive(winters: Sequence[Winter], level: float = 0.95) -> Share:
    """The share of decided winters that roots came through, with its interval; those that left or are open are none.

    Raises AnalysisError for a level that is not between 0 and 1.
    """
    return share_of_boxes(boxes_of(winters), level)


def _winter(row: dict[str, Any]) -> Winter:
    days = {name: _day(row[name]) for name in ("entered_on", "last_alive_on", "ended_on", "regrow_by")}
    named = {field.name: row[field.name] for field in attrs.fields(Winter) if field.name in row}
    return Winter(**(named | {"winter": row["season"], "winter_name": row["season_name"]} | days))


def _day(value: Any) -> date | None:
    return None if value is None else pd.Timestamp(value).date()
