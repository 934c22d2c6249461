"""Days of several seasons on one axis: every date has one place, whatever the year."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, FuncFormatter

from perennia.report.columns import Floats

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_YEAR = 365
_FEW_DAYS = 50


def places_of(on: pd.Series[Any], season: pd.Series[Any]) -> Floats:
    """Days since 1 January of the season's year; nan if missing.

    29 February lies half a day before 1 March, so that every other date has one place whatever the year (as
    values.calendar_day) and a curve does not leap upright on 1 March of a leap year.
    """
    days = pd.to_datetime(on)
    after_leap_day = days.dt.is_leap_year & (days.dt.month > 2)
    leap_day = (days.dt.month == 2) & (days.dt.day == 29)
    places = days.dt.dayofyear - 1 - after_leap_day - leap_day / 2 + _YEAR * (days.dt.year - season.astype("Float64"))
    return np.asarray(places.to_numpy(dtype=float, na_value=np.nan), dtype=np.float64)


def date_axis(ax: Axes, seasons: Collection[int], *, named: bool = True, most: int = 8) -> None:
    """Months under an x axis of places_of, with their year where there is but one season.

    named: with a label. most: ticks that there is room for.
    """
    low, high = ax.get_xlim()
    year = next(iter(seasons)) if len(set(seasons)) == 1 else None
    ticks = _ticks(low, high, most)
    ax.xaxis.set_major_locator(FixedLocator(ticks))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda place, _: _name(place, year, place == ticks[0])))
    ax.set_xlim(low, high)
    if named:
        ax.set_xlabel("date" if year is not None else "date in the season")


def _ticks(low: float, high: float, most: int) -> list[float]:
    """Beginnings of months, fewer where there are many, days too where there is hardly one."""
    first, last = int(low // _YEAR), int(high // _YEAR)
    months = [_YEAR * year + start for year in range(first, last + 1) for start in _MONTH_STARTS]
    if high - low <= _FEW_DAYS:
        every = next(every for every in (1, 2, 7, 14) if (high - low) / every <= most or every == 14)
        days = {month + day for month in months for day in range(0, 28, every)}
        inside = sorted(float(day) for day in days if low <= day <= high)
        return inside or [float(round((low + high) / 2))]
    inside = [float(month) for month in months if low <= month <= high]
    step = next(step for step in (1, 2, 3, 4, 6, 12, len(inside)) if len(inside) / step <= most)
    return inside[::step]


def _name(place: float, year: int | None, first: bool) -> str:
    """1 Jul, and the year below where it begins or the axis does."""
    years, day = divmod(round(place), _YEAR)
    month = max(number for number, start in enumerate(_MONTH_STARTS) if start <= day)
    text = f"{day - _MONTH_STARTS[month] + 1} {MONTHS[month]}"
    if year is not None and (first or (month == 0 and day == 0)):
        text += f"\n{year + years}"
    return text


def ordinals_of(on: pd.Series[Any]) -> Floats:
    """Days as numbers along the years, 1 for 1 January of year 1; nan if missing."""
    days = pd.to_datetime(on).to_numpy(dtype="datetime64[D]")
    numbers = days.astype(np.int64).astype(np.float64) + date(1970, 1, 1).toordinal()
    return np.where(np.isnat(days), np.nan, numbers)


def year_axis(ax: Axes, low: float, high: float) -> None:
    """Years under an x axis of ordinals_of, with months where there are few."""
    first, last = date.fromordinal(max(int(low), 1)), date.fromordinal(max(int(high), 1))
    every = 3 if last.year - first.year <= 2 else 12
    ticks = [
        float(date(year, month, 1).toordinal())
        for year in range(first.year, last.year + 1) for month in range(1, 13, every)
    ]  # fmt: skip
    step = max(1, -(-len(ticks) // 12))
    inside = [tick for tick in ticks if low <= tick <= high][::step] or [low]
    ax.xaxis.set_major_locator(FixedLocator(inside))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda day, _: _month_of(day, every)))
    ax.set_xlim(low, max(high, low + 1))
    ax.set_xlabel("year")


def _month_of(day: float, every: int) -> str:
    on = date.fromordinal(max(int(day), 1))
    if every == 12 and on.day == 1 and on.month == 1:
        return str(on.year)
    return f"{on.day} {MONTHS[on.month - 1]}\n{on.year}"
