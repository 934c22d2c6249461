"""Days of the year on which the garden did a thing in earlier seasons: what its own books say of when."""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from datetime import date, timedelta

import attrs

from perennia.analysis.causes.due.wording import day_in_year
from perennia.checking.words import counted

_YEAR_DAYS = 365
_NO_LEAP_YEAR = 2001


@attrs.frozen
class OwnDays:
    """The days of one season by those of the earlier ones: the first, the middle and the last of them all.

    n: how often it was done, in so many seasons.
    """

    first: date
    middle: date
    last: date
    n: int
    seasons: int

    def told(self, what: str) -> str:
        """The days in words."""
        if self.first == self.last:
            when = f"on {day_in_year(self.first)}"
        else:
            when = (
                f"between {day_in_year(self.first)} and {day_in_year(self.last)}, half of them by "
                f"{day_in_year(self.middle)}"
            )
        return f"{what} {when} ({counted(self.n, 'record')} of {counted(self.seasons, 'season')})"


def growing_year(day: date, starts: str) -> int:
    """The growing year a day lies in, that begins on the month-day starts."""
    return day.year - ((day.month, day.day) < _month_and_day(starts))


def first_day(season: int, starts: str) -> date:
    """The first day of a growing year."""
    month, number = _month_and_day(starts)
    return date(season, month, number)


def _month_and_day(starts: str) -> tuple[int, int]:
    month, number = starts.split("-")
    return int(month), int(number)


def _number(day: date) -> int:
    """The number of a day in a year of 365 days, so that a month and day is the same in leap years and others."""
    return day.replace(year=_NO_LEAP_YEAR, day=28 if (day.month, day.day) == (2, 29) else day.day).timetuple().tm_yday


def _on(begins: date, offset: int) -> date:
    """The day so many days from another on, leap days not counted."""
    years, number = divmod(_number(begins) - 1 + offset, _YEAR_DAYS)
    inside = date(_NO_LEAP_YEAR, 1, 1) + timedelta(days=number)
    return inside.replace(year=begins.year + years)


def own_days(days: Iterable[date], season: int, starts: str, earliest: int = -90) -> OwnDays | None:
    """The days on which a thing was done before, as days about the season asked for; None where it never was.

    earliest: how many days from the first of the season on a year of such days is cut, so that days on both sides of
    the season's boundary lie together.
    """
    offsets: list[int] = []
    seasons: set[int] = set()
    for day in days:
        year = growing_year(day, starts)
        offset = (_number(day) - _number(first_day(year, starts))) % _YEAR_DAYS
        turns = (offset - earliest) // _YEAR_DAYS
        offsets.append(offset - turns * _YEAR_DAYS)
        seasons.add(year + turns)
    if not offsets:
        return None
    begins = first_day(season, starts)
    first, middle, last = (
        _on(begins, number) for number in (min(offsets), statistics.median_low(offsets), max(offsets))
    )
    return OwnDays(first, middle, last, n=len(offsets), seasons=len(seasons))
