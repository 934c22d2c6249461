"""Statistical units: labels linked by shared pickings stand or fall together, and a stand of plants is one."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.measures import Measure
from perennia.analysis.values import DayNumber, day_number, value_of
from perennia.analysis.values import Row as Row
from perennia.errors import AnalysisError

STOCKS = ("fresh", "overwintered", "bought root", "bought plant", "division", "cutting")
"""Kinds of stock that season_summary tells apart."""
NOT_RECORDED = "not recorded"
TOGETHER = " + "
"""Between the levels of a unit whose labels differ in bed, cover or cultivar."""


@attrs.frozen
class Unit:
    """One unit in one season.

    season_name: the season as a grower writes it, 2024 or 2024/25.
    value: in the measure asked for, a day being counted from 1 January of the season's year, and infinite where nothing
    was cropped; None with why_missing. works, timed, costed: entries of work on it, and those with a time and with
    a cost; None where nobody asked.
    stock: of all its labels, None if they differ (mixed) or it is not known. cultivar, cover, site, bed: joined by
    TOGETHER where its labels differ, None where any is not recorded. space_m2: ground a plant. watered_mm, waterings:
    water given a label, None where not all is known. first_pick: of any label. running: the season has
    not ended for all of it. grew: any label came into growth. silent: nothing shows
    whether any did. kept_root: any entered the season as a kept root. lost:
    kept, but did not grow. settled: it had a place of its own this season.
    """

    crop: str
    season: int
    season_name: str
    name: str
    members: frozenset[str]
    labels: int
    plants: int
    stock: str | None
    mixed: frozenset[str]
    cultivar: str | None
    cover: str | None
    site: str | None
    bed: str | None
    container: str | None
    planted_on: str | None
    space_m2: float | None
    watered_mm: float | None
    waterings: float | None
    value: float | None
    why_missing: str | None
    moved: bool
    running: bool
    grew: bool
    silent: bool
    kept_root: bool
    lost: bool
    settled: bool
    left_for_seed: bool
    first_pick: date | None
    works: int | None
    timed: int | None
    costed: int | None

    @property
    def known_value(self) -> float:
        """The value. Raises AnalysisError where it is missing: such a unit is to be left out and counted."""
        if self.value is None:
            raise AnalysisError(f"{self.name} has no value in season {self.season}: {self.why_missing}")
        return self.value


def known(value: Any) -> Any:
    """The value, or None where it is missing."""
    return None if pd.isna(value) else value


def rows_of(frame: pd.DataFrame) -> list[Row]:
    """The rows of season_summary as mappings, missing values as None."""
    names = [str(name) for name in frame.columns]
    columns = [_known_values(frame[name]) for name in names]
    return [dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True)]


def _known_values(column: pd.Series) -> list[Any]:
    values = np.array(column.astype(object), dtype=object)
    values[column.isna().to_numpy(dtype=bool)] = None
    known_values: list[Any] = values.tolist()
    return known_values


def named(rows: Iterable[Row], season: int) -> str:
    """A season as growers write it; where growing years of one number begin on several days, all their names."""
    names = {str(row["season_name"]) for row in rows if row["season"] == season}
    return " and ".join(sorted(names)) or str(season)


def units_of(rows: Iterable[Row], measure: Measure, day: DayNumber | None = None) -> list[Unit]:
    """Rows of season_summary gathered to units, ordered by crop, season and unit; day numbers dates."""
    gathered: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        alone = (row["sharing"] or 1) <= 1
        name = row["plant"] if alone or row["unit"] is None else row["unit"]
        gathered.setdefault((row["crop"], row["season"], name, alone), []).append(row)
    return [unit_from(gathered[key], measure, day) for key in sorted(gathered, key=str)]


def unit_from(rows: Sequence[Row], measure: Measure, day: DayNumber | None = None) -> Unit:
    """One unit from the rows of its labels in one season; day numbers dates, day_number unless given."""
    first = min(rows, key=lambda row: str(row["plant"]))
    lost = all(was_lost(row) for row in rows)
    value, why_missing = (0.0, None) if lost and measure.adds_up else value_of(rows, measure, day or day_number)
    stocks = frozenset(_stock(row) for row in rows)
    return Unit(
        crop=first["crop"],
        season=int(first["season"]),
        season_name=str(first["season_name"]),
        name=str(first["unit"] or first["label"]),
        members=frozenset(str(row["plant"]) for row in rows),
        labels=len(rows),
        plants=sum(int(row["plants"] or 0) for row in rows),
        stock=next(iter(stocks)) if len(stocks) == 1 else None,
        mixed=frozenset(str(stock or NOT_RECORDED) for stock in stocks) if len(stocks) > 1 else frozenset(),
        cultivar=_joined(rows, "cultivar"),
        cover=_joined(rows, "cover"),
        site=_joined(rows, "site"),
        bed=_joined(rows, "bed"),
        container=_joined(rows, "container"),
        planted_on=_month(rows),
        space_m2=_space(rows),
        watered_mm=_mean(rows, "watered_mm"),
        waterings=_mean(rows, "waterings"),
        value=value,
        why_missing=why_missing,
        moved=any(row["moved"] is True for row in rows),
        running=any(row["finished"] is not True for row in rows) and not lost,
        grew=any(row["grew"] is True for row in rows),
        silent=all(row["grew"] is None for row in rows),
        kept_root=any(row["kept_root"] is True for row in rows),
        lost=lost,
        settled=not lost or all(_had_place(row) for row in rows),
        left_for_seed=any((row["left_for_seed"] or 0) + (row["left_uncounted"] or 0) > 0 for row in rows),
        first_pick=_first_pick(rows),
        works=_counted(rows, "works"),
        timed=_counted(rows, "timed"),
        costed=_counted(rows, "costed"),
    )


def was_lost(row: Row) -> bool:
    """Whether a kept root died in the winter; one thrown out or divided before it grew was not lost."""
    gone = row["grew"] is False and row["kept_root"] is True
    return gone and row["ended_how"] not in ("removed", "divided")


def _stock(row: Row) -> str | None:
    """A root put by and lost is overwintered stock, whether or not the view could name it."""
    if row["stock"] is None and row["kept_root"] is True and row["grew"] is False:
        return "overwintered"
    stock: str | None = row["stock"]
    return stock


def _had_place(row: Row) -> bool:
    """Whether a lost root stood somewhere this season: it was set out, or had stayed in the ground."""
    in_ground = str(row["wintering"] or "").startswith("ground")
    return row["bed"] is not None and (row["planted_on"] is not None or in_ground)


def _joined(rows: Sequence[Row], name: str) -> str | None:
    values = {row[name] for row in rows}
    return None if None in values else TOGETHER.join(sorted(str(value) for value in values))


def _month(rows: Sequence[Row]) -> str | None:
    days = [row["planted_on"] for row in rows]
    return None if None in days else f"{min(pd.Timestamp(day) for day in days):%Y-%m}"


def _space(rows: Sequence[Row]) -> float | None:
    """Ground a plant, to the square decimetre."""
    space, plants = [row["space_m2"] for row in rows], [row["plants"] for row in rows]
    if any(not value for value in [*space, *plants]):
        return None
    return round(float(sum(space)) / float(sum(plants)), 2)


def _first_pick(rows: Sequence[Row]) -> date | None:
    days = [pd.Timestamp(row["first_pick"]).date() for row in rows if row["first_pick"] is not None]
    return min(days, default=None)


def _counted(rows: Sequence[Row], name: str) -> int | None:
    """The sum over the labels; None where season_efforts was not asked."""
    return sum(int(row[name]) for row in rows) if name in rows[0] else None


def _mean(rows: Sequence[Row], name: str) -> float | None:
    """The mean over the labels, None where any is missing."""
    values = [row[name] for row in rows]
    return None if None in values else statistics.fmean(float(value) for value in values)


def water_classes(units: Sequence[Unit]) -> dict[str, str | None]:
    """By name, the class of water a unit was given: in 50 mm where the depth is known for all that were looked after,
    else in five waterings; None where no watering was recorded."""
    if all(unit.watered_mm is not None for unit in units if unit.waterings is not None):
        return {unit.name: _class(unit.watered_mm, 50, "mm") for unit in units}
    return {unit.name: _class(unit.waterings, 5, "waterings") for unit in units}


def _class(value: float | None, width: int, noun: str) -> str | None:
    """The class of a figure, its upper bound in it; nothing is a class of its own."""
    if value is None:
        return None
    if value <= 0:
        return f"0 {noun}"
    upper = math.ceil(value / width) * width
    return f"over {upper - width} to {upper} {noun}"
