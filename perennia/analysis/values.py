"""The value of a unit in a measure, from the rows of its labels, or why it has none."""

from __future__ import annotations

import calendar
import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from perennia.analysis.measures import Measure

Row = Mapping[str, Any]
DayNumber = Callable[[Any, int], float]
Value = tuple[float | None, str | None]
"""A value, or None and the reason."""

_TIMED_AT_LEAST = 0.8
"""Share of the entries of work that must have a time, our own choice: hours of which half is unknown are no hours."""

_LACKING = {
    "minutes": "no time is written down", "cost": "no cost is written down", "total_g": "total_g is missing",
    "count": "not all of its crop was counted", "space_m2": "its ground is not known",
    "occupied_days": "it stood in no bed on record",
}  # fmt: skip


def value_of(rows: Sequence[Row], measure: Measure, day: DayNumber) -> Value:
    """The value of labels that make one unit. A date is infinite, later than any other, where nothing was cropped."""
    if measure.kind == "day":
        return _day(rows, measure, day)
    if measure.kind == "length":
        return _length(rows)
    if measure.kind == "quotient":
        return _quotient(rows, measure)
    if any(row[measure.name] is None for row in rows):
        return None, f"{measure.name} is missing"
    values = [float(row[measure.name]) for row in rows]
    plants = [row["plants"] for row in rows]
    if any(count is None or count < 1 for count in plants):
        return None, "the number of plants is missing"
    if measure.kind == "amount":
        return sum(values) / float(sum(plants)), None
    space = [row["space_m2"] for row in rows]
    weights = plants if any(area is None for area in space) else space
    return sum(value * float(weight) for value, weight in zip(values, weights, strict=True)) / float(sum(weights)), None


def never_cropped(row: Row) -> bool:
    """Whether a plant grew through its season and is known to have borne nothing."""
    crop = [row[name] for name in ("total_g", "count") if row[name] is not None]
    return row["grew"] is True and row["finished"] is True and bool(crop) and not any(crop)


def _day(rows: Sequence[Row], measure: Measure, day: DayNumber) -> Value:
    days: list[float] = []
    for row in rows:
        if row[measure.name] is not None:
            days.append(day(row[measure.name], int(row["season"])))
        elif never_cropped(row):
            days.append(math.inf)
        else:
            reasons = sorted({str(other["withheld"]) for other in rows if other["withheld"] is not None})
            return None, "; ".join(reasons) or f"{measure.name} is missing"
    return (min(days) if measure.name == "first_pick" else statistics.median(days)), None


def _length(rows: Sequence[Row]) -> Value:
    """Days from the first picking off any of the labels to the last, 0 where nothing was cropped."""
    picked = [row for row in rows if row["first_pick"] is not None and row["last_pick"] is not None]
    if any(row not in picked and not never_cropped(row) for row in rows):
        return None, "no dated picking is on record"
    if not picked:
        return 0.0, None
    first = min(pd.Timestamp(row["first_pick"]) for row in picked)
    last = max(pd.Timestamp(row["last_pick"]) for row in picked)
    return float((last - first).days + 1), None


def _quotient(rows: Sequence[Row], measure: Measure) -> Value:
    """Sum over sum, so that a label counts by what it took."""
    for name in ("total_g", *measure.per):
        if any(row[name] is None for row in rows):
            return None, _LACKING[name]
    if "minutes" in measure.per:
        works, timed = (sum(int(row[name]) for row in rows) for name in ("works", "timed"))
        if timed < _TIMED_AT_LEAST * works:
            return None, f"under {100 * _TIMED_AT_LEAST:.0f} % of its work has a time written down"
    below = sum(math.prod(float(row[name]) for name in measure.per) for row in rows)
    if below <= 0:
        return None, f"its {' by '.join(measure.per)} is 0"
    return measure.scale * sum(float(row["total_g"]) for row in rows) / below, None


def day_number(value: Any, season: int) -> float:
    """Days from 1 January of the season's year, which is day 1."""
    day = pd.Timestamp(value).date()
    return float((day - date(season, 1, 1)).days + 1)


def calendar_day(value: Any, season: int) -> float:
    """Like day_number without leap days, so that a date has one number in every year; 29 February has 1 March's."""
    day = pd.Timestamp(value).date()
    in_year = day - date(day.year, 1, 1)
    after_leap_day = calendar.isleap(day.year) and day.month > 2
    return float(365 * (day.year - season) + in_year.days + 1 - after_leap_day)
