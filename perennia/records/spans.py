"""A day or a span of days, as a grower half remembers it, read from ISO 8601-1 and 8601-2 text."""

from __future__ import annotations

import calendar
import re
from datetime import date, datetime, timedelta

import attrs

from perennia.errors import RecordError

_UNIT = re.compile(r"(?P<year>\d{4})(?:-(?P<month>\d{2})(?:-(?P<day>\d{2}))?)?(?P<about>~)?")
_YEAR_LAST = re.compile(r"\d{1,2}([/.-])\d{1,2}\1\d{2,4}")
# "about" widens a span by half its own unit on either side (our own rule; ISO 8601-2 only says "approximate").
_HALF_UNIT_DAYS = {"day": 3, "month": 15, "year": 183}
EARLIEST = date(1900, 1, 1)


@attrs.frozen(order=True)
class Span:
    """The days on one of which (or throughout which) a thing happened.

    start is None when only the latest day is known ("../2018"); end is always known.
    A single day has start == end.
    """

    start: date | None
    end: date

    def __attrs_post_init__(self) -> None:
        if self.start is not None and self.start > self.end:
            raise RecordError(
                f"the span starts on {self.start} after it ends on {self.end}; write the earlier day first"
            )
        if (self.start or self.end) < EARLIEST:
            raise RecordError(f"{self.start or self.end} is before {EARLIEST}; check the year")

    @property
    def days(self) -> int | None:
        """Length in days, 1 for a single day, None when the start is open."""
        return None if self.start is None else (self.end - self.start).days + 1

    def __str__(self) -> str:
        if self.start == self.end:
            return self.end.isoformat()
        return f"{'..' if self.start is None else self.start.isoformat()}/{self.end.isoformat()}"


def to_span(value: Span | date | str) -> Span:
    """Read a day or a span.

    Accepts a Span, a date, or text: ``2024-04-15``, ``2024-04`` (some day of that month), ``2024``,
    ``2024-04~`` (about then), ``2024-04-02/2024-04-09``, ``../2018`` (by the end of 2018).

    Raises RecordError for anything else; day-first and month-first dates are never guessed.
    """
    if isinstance(value, Span):
        return value
    # only a missing day of another library (NaT) differs from itself
    if not isinstance(value, date | str) or value != value:
        raise RecordError(f"{value!r} is not a date; write it as 2024-04-15, 2024-04 or 2024-04-02/2024-04-09")
    if isinstance(value, datetime):
        return Span(value.date(), value.date())
    if isinstance(value, date):
        return Span(value, value)
    text = value.strip()
    if _YEAR_LAST.fullmatch(text):
        raise RecordError(f"{value!r} is not an ISO 8601 date, which begins with the year; write it as 2024-04-15")
    if "/" not in text:
        return _unit(text)
    first, _, last = text.partition("/")
    if last in ("", ".."):
        raise RecordError(f"{value!r} has no end; give the last day it can have been")
    start = None if first in ("", "..") else _unit(first).start
    return Span(start, _unit(last).end)


def to_span_or_none(value: Span | date | str | None) -> Span | None:
    """Like to_span, keeping None."""
    return None if value is None else to_span(value)


def to_day_or_none(value: date | str | None) -> date | None:
    """Read one single day, keeping None. Raises RecordError for a span."""
    if value is None:
        return None
    span = to_span(value)
    if span.start != span.end:
        raise RecordError(f"{value!r} is more than one day; here a single day such as 2024-07-15 is needed")
    return span.end


def unit_in_words(start: date, end: date) -> str | None:
    """The one day, month or year, or about one, that to_span reads as these days: ``in March 2024``, ``about 2019``.

    None where they are those of no unit, or cannot be right.
    """
    if not EARLIEST <= start <= end:
        return None
    middle = start + (end - start) / 2
    for unit, text, about in (
        ("day", middle.isoformat(), middle.isoformat()),
        ("month", f"{middle:%Y-%m}", f"{calendar.month_name[middle.month]} {middle.year}"),
        ("year", f"{middle:%Y}", str(middle.year)),
    ):
        if _days_of(text) == (start, end):
            return f"{'on' if unit == 'day' else 'in'} {about}"
        if _days_of(f"{text}~") == (start, end):
            return f"about {about}"
    return None


def _unit(text: str) -> Span:
    return Span(*_days_of(text))


def _why_none(text: str) -> str:
    """Why a day or month written in digits is none."""
    year, month = int(text[:4]), int(text[5:7] or 1)
    if not year:
        return "there is no year 0"
    if not 1 <= month <= 12:
        return f"there is no month {month}"
    return f"{calendar.month_name[month]} {year} has {calendar.monthrange(year, month)[1]} days"


def _days_of(text: str) -> tuple[date, date]:
    """First and last day of a day, month or year, or of about one."""
    match = _UNIT.fullmatch(text)
    if match is None:
        raise RecordError(f"{text!r} is not an ISO 8601 date; write it as 2024-04-15, 2024-04 or 2024")
    year, month, day = (int(match[part]) if match[part] else None for part in ("year", "month", "day"))
    try:
        start = date(year or 0, month or 1, day or 1)
    except ValueError as error:
        raise RecordError(f"{text!r} is not a day of the calendar: {_why_none(text)}") from error
    if day:
        unit, end = "day", start
    elif month:
        unit, end = "month", start.replace(day=calendar.monthrange(start.year, month)[1])
    else:
        unit, end = "year", date(start.year, 12, 31)
    if match["about"]:
        widen = timedelta(days=_HALF_UNIT_DAYS[unit])
        start, end = start - widen, min(end, date.max - widen) + widen
    return start, end
