"""Dates as growers write them, once they have said which of day and month comes first; never a guess."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal, get_args

import attrs

from perennia.errors import ArgumentError, RecordError
from perennia.records.spans import Span, to_span

Order = Literal["day first", "month first"]
_NUMBERS = re.compile(r"(\d{1,2})([./ -])\s*(\d{1,2})(?:\.?$|\2\s*(\d{4}|\d{2})\.?$)")
_NAMED = re.compile(r"(?:(\d{1,2})\.?[ -]+)?([A-Za-z]{3,9})\.?(?:[ -]+(\d{1,2}))?(?:,?[ -]+(\d{4}))?")
_ENGLISH = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_MONTHS = {short: number for number, name in enumerate(_ENGLISH, start=1) for short in {name, name[:3], name[:4]}}
_BETWEEN = re.compile(r"\s+(?:to|until|-|–)\s+")
_A_YEAR = re.compile(r"(?<!\d)((?:19|20)\d{2})(?![\d])(?![-/_]\d{2}(?!\d))")
_TWO_YEARS = re.compile(r"(?<!\d)(?:19|20)\d{2}[-/_]\d{2}(?!\d)")


@attrs.frozen
class Dates:
    """How dates are written: order of day and month, None for ISO 8601 only; year stands where a date has none."""

    order: Order | None = None
    year: int | None = None


def an_order(value: object) -> Order | None:
    """``day first`` or ``month first``, kept None. Raises ArgumentError."""
    if value is None or value in get_args(Order):
        return value  # type: ignore[return-value]
    raise ArgumentError(f"dates is {value!r}; give 'day first' or 'month first', or leave it out for ISO 8601 dates")


def year_in(*names: str) -> int | None:
    """The year named by the first of the names that names just one, such as ``picked 2023``."""
    for name in names:
        if _TWO_YEARS.search(name):
            # a growing year over two calendar years: which of them a day falls in, the name does not say
            return None
        years = set(_A_YEAR.findall(name))
        if len(years) == 1:
            return int(years.pop())
    return None


def span_reader(dates: Dates) -> Callable[[str], Span]:
    """How to read the text of a date or span: ISO 8601 always, other forms by the order set.

    Two digits of a year mean the years 2000 to 2099; month names are English. Two dates parted by ``to`` or a dash
    between spaces are a span.
    """
    if dates.order is None:
        return _iso

    def read(text: str) -> Span:
        try:
            return to_span(text)
        except RecordError:
            parts = _BETWEEN.split(text.strip())
            if len(parts) == 2:
                return Span(_one(parts[0], dates).start, _one(parts[1], dates).end)
            return _one(text.strip(), dates)

    return read


def _iso(text: str) -> Span:
    try:
        return to_span(text)
    except RecordError as error:
        if _NUMBERS.fullmatch(text.strip()) is None:
            raise
        raise RecordError(
            f"{text!r} is not an ISO 8601 date; write it as 2024-04-15, or say which of day and month comes first: "
            "dates='day first' (--dates 'day first')"
        ) from error


def _one(text: str, dates: Dates) -> Span:
    numbers = _NUMBERS.fullmatch(text)
    if numbers is not None:
        first, _, second, year = numbers.groups()
        day, month = (first, second) if dates.order == "day first" else (second, first)
        return _span(text, year, int(month), day, dates)
    named = _NAMED.fullmatch(text)
    if named is not None and named[2].lower() in _MONTHS and not (named[1] and named[3]):
        if named[3] and not named[4]:
            raise RecordError(
                f"{text!r} can be a day or a month of a year; write the day first, as 24 May, or the whole date"
            )
        return _span(text, named[4], _MONTHS[named[2].lower()], named[1] or named[3], dates)
    try:
        return to_span(text)
    except RecordError as error:
        raise RecordError(
            f"{text!r} is no date; write it as 2024-04-15, or {dates.order} as "
            f"{'15/4/2024' if dates.order == 'day first' else '4/15/2024'}"
        ) from error


def _span(text: str, year: str | None, month: int, day: str | None, dates: Dates) -> Span:
    if year is None and dates.year is None:
        raise RecordError(
            f"{text!r} has no year, and neither have the names of sheet and file; "
            "write the year, or give year=2024 (--year 2024)"
        )
    whole = dates.year if year is None else int(year) + (2000 if len(year) == 2 else 0)
    if not 1 <= month <= 12:
        raise RecordError(f"{text!r} is no date written {dates.order}: there is no month {month}")
    return to_span(f"{whole}-{month:02d}" + (f"-{int(day):02d}" if day else ""))
