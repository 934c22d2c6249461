"""The last frost of each spring and the first of each autumn, from the lowest temperatures of the days."""

from __future__ import annotations

import math
from typing import Literal

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.permutation import Booleans

Half = Literal["spring", "autumn"]
# a year that is not a leap year: its 29 February is counted with the 28th
_PLAIN = 2001
_FIRST_MONTHS = {False: 1, True: 7}


@attrs.frozen
class FrostHalf:
    """One half of one frost year.

    season: the year it begins in, 1 January north of the equator and 1 July south of it. on: the last frost of the
    spring or the first of the autumn that is recorded. day: its number from the first day of the frost year, infinite
    where there was none in the days that had to be whole, None where one of those is missing. missing: how many are.
    """

    season: int
    half: Half
    on: pd.Timestamp | None
    day: float | None
    missing: int


@attrs.frozen
class FrostHalves:
    """One half of every frost year on record, and the days (numbers in the frost year) that had to be whole."""

    half: Half
    years: tuple[FrostHalf, ...]
    whole_from: int | None
    whole_to: int | None

    @property
    def days(self) -> list[float]:
        """The days of the years that count."""
        return [year.day for year in self.years if year.day is not None]


@attrs.frozen(eq=False)
class _Days:
    """The days of one half of one year in order: number in the frost year, whether it is known, whether it froze."""

    season: int
    dates: pd.DatetimeIndex
    numbers: list[int]
    known: Booleans
    froze: Booleans

    def ends_known(self, half: Half) -> int | None:
        """The number of the frost where every day between it and midsummer is known, else None."""
        places = np.flatnonzero(self.froze)
        if not places.size:
            return None
        place = int(places[-1] if half == "spring" else places[0])
        between = self.known[place:] if half == "spring" else self.known[: place + 1]
        return self.numbers[place] if between.all() else None


def day_number(day: pd.Timestamp, south: bool) -> int:
    """The number of a day from 1 January, or from 1 July south of the equator, 29 February counted with the 28th."""
    plain = pd.Timestamp(_PLAIN, day.month, 28 if (day.month, day.day) == (2, 29) else day.day)
    first = pd.Timestamp(_PLAIN, _FIRST_MONTHS[south], 1)
    return (plain - first).days % 365 + 1


def month_day(number: float, south: bool) -> pd.Timestamp:
    """The day of that number, in a year that is not a leap year."""
    return pd.Timestamp(_PLAIN, _FIRST_MONTHS[south], 1) + pd.Timedelta(days=round(number) - 1)


def frost_halves(
    t_min_c: pd.Series[float], threshold: float, *, inclusive: bool, south: bool, half: Half
) -> FrostHalves:
    """One half of each frost year from the lowest temperatures by day, nan where not recorded.

    The days that had to be whole lie between midsummer and the frost farthest from it in any year whose days from it
    to midsummer are all known: they are the same for every year, so that what is left out does not hang on the frost.
    """
    every = [_half_days(t_min_c, season, threshold, inclusive, south, half) for season in _seasons(t_min_c, south)]
    ends = [end for end in (days.ends_known(half) for days in every) if end is not None]
    if not ends:
        # nothing shows when frosts end there: the whole half must be known to say that there was none
        first, last = (every[0].numbers[0], every[0].numbers[-1]) if every else (None, None)
    elif half == "spring":
        first, last = min(ends), every[0].numbers[-1]
    else:
        first, last = every[0].numbers[0], max(ends)
    years = tuple(_year(days, half, first, last) for days in every)
    return FrostHalves(half, years, first, last)


def _seasons(t_min_c: pd.Series[float], south: bool) -> list[int]:
    """The years in which a frost year of the record begins."""
    # the first day with a minimum opens the first, the last the last
    known = t_min_c.dropna().index
    if known.empty:
        return []
    first, last = (day.year - (south and day.month < _FIRST_MONTHS[south]) for day in (known[0], known[-1]))
    return list(range(first, last + 1))


def _half_days(
    t_min_c: pd.Series[float], season: int, threshold: float, inclusive: bool, south: bool, half: Half
) -> _Days:
    first = pd.Timestamp(season, _FIRST_MONTHS[south], 1)
    middle = first + pd.DateOffset(months=6)
    dates = (
        pd.date_range(first, middle, inclusive="left") if half == "spring"
        else pd.date_range(middle, first + pd.DateOffset(years=1), inclusive="left")
    )  # fmt: skip
    values = t_min_c.reindex(dates).to_numpy(dtype=float)
    froze = (values <= threshold) if inclusive else (values < threshold)
    return _Days(season, dates, [day_number(day, south) for day in dates], ~np.isnan(values), froze)


def _year(days: _Days, half: Half, first: int | None, last: int | None) -> FrostHalf:
    needed = [first is not None and last is not None and first <= number <= last for number in days.numbers]
    missing = int((np.array(needed) & ~days.known).sum())
    places = np.flatnonzero(days.froze)
    place = None if not places.size else int(places[-1] if half == "spring" else places[0])
    on = None if place is None else days.dates[place]
    if missing:
        return FrostHalf(days.season, half, on, None, missing)
    if place is None or not needed[place]:
        return FrostHalf(days.season, half, on, -math.inf if half == "spring" else math.inf, 0)
    return FrostHalf(days.season, half, on, float(days.numbers[place]), 0)
