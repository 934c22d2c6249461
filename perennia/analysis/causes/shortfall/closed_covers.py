"""Nets and fleeces over open flowers, plant by plant and day by day: they shut insects out."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pandas as pd

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import each_once, reaching_rows, to_the_day, when
from perennia.analysis.causes.water.covers import covers_of
from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

_CLOSED = ("fleece", "net")
_BEDS = "select bed, cover from beds"


def shut_days(source: Source, asked: Asked) -> tuple[dict[str, set[date]], tuple[str, ...]]:
    """By plant, the days of flowering on which it stood under a net or fleece; and covers whose day is not known.

    Plants and days without one are left out. A cover put on a bed is over all its plants, one put on a label over that
    plant alone; a bed's usual cover is over it before any and once another was taken off.
    """
    if not asked.flowering:
        return {}, ()
    index = pd.DatetimeIndex(asked.flowering)
    usual = {row["bed"]: row["cover"] for row in rows_of(source.sql(_BEDS))}
    over = {bed: list(covers_of(source, bed, usual.get(bed, "open"), index)) for bed in asked.beds}
    changes = [row for event in ("covered", "uncovered") for row in reaching_rows(source, asked, event)]
    shut = {}
    for row in asked.rows:
        own = [change for change in changes if change["plant"] == row["plant"]]
        covers = _with_own(over.get(row["bed"], ["open"] * len(index)), own, asked.flowering)
        days = {day for day, cover in zip(asked.flowering, covers, strict=True) if cover in _CLOSED}
        if days:
            shut[str(row["plant"])] = days
    return shut, tuple(
        f"a cover was put on or taken off {when(row)}, and on which of these days is not recorded"
        for row in each_once(changes) if not to_the_day(row) and _during(asked, row)
    )


def _with_own(over: list[str], own: list[Row], days: tuple[date, ...]) -> list[str]:
    """The cover on each day where some were put on this plant alone; of one day, one put on goes before one taken
    off."""
    if not own:
        return over
    ordered = sorted(own, key=lambda row: (day_of(row["on_to"]), row["event"] == "covered"))
    covers = []
    for day, bed_cover in zip(days, over, strict=True):
        last = next((row for row in reversed(ordered) if day_of(row["on_to"]) <= day), None)
        covers.append(bed_cover if last is None or last["event"] == "uncovered" else str(last["cover"]))
    return covers


def _during(asked: Asked, row: Row) -> bool:
    first, last = asked.flowering[0], asked.flowering[-1]
    begun = row["on_from"]
    return day_of(row["on_to"]) >= first and (begun is None or day_of(begun) <= last)
