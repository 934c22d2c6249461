"""Dates at intake: ISO 8601 always, other forms only by the order that was set, never a guess."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import ArgumentError, RecordError
from perennia.intake.dates import Dates, Order, an_order, span_reader, year_in
from perennia.records.spans import to_span

DAYS = st.dates(date(1950, 1, 1), date(2099, 12, 31))
ORDERS: list[Order] = ["day first", "month first"]
SIGNS = st.sampled_from("/.-")


def in_order(day: date, order: str, sign: str) -> str:
    first, second = (day.day, day.month) if order == "day first" else (day.month, day.day)
    return f"{first}{sign}{second}"


@given(DAYS, st.sampled_from(ORDERS), SIGNS)
def test_a_day_comes_back_by_the_order_in_which_it_was_written(day: date, order: Order, sign: str) -> None:
    whole, short = f"{in_order(day, order, sign)}{sign}{day.year}", in_order(day, order, sign)
    assert span_reader(Dates(order))(whole).end == day
    assert span_reader(Dates(order, day.year))(short).end == day
    assert span_reader(Dates(order))(day.isoformat()).end == day
    for text in (whole, short):
        with pytest.raises(RecordError, match="is not an ISO 8601 date"):
            span_reader(Dates())(text)


@given(DAYS, DAYS, st.sampled_from(ORDERS))
def test_two_days_with_to_between_them_are_a_span(one: date, other: date, order: Order) -> None:
    first, last = sorted((one, other))
    text = f"{in_order(first, order, '/')}/{first.year} to {in_order(last, order, '.')}.{last.year}"
    span = span_reader(Dates(order))(text)
    assert (span.start, span.end) == (first, last)


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("3.8.23", "2023-08-03"), ("15 April 2023", "2023-04-15"), ("Apr 15, 2023", "2023-04-15"),
        ("3 sept", "2024-09-03"), ("may", "2024-05"), ("May 2023", "2023-05"), ("2023-04~", "2023-04~"),
        ("../2018", "../2018"), ("5/8 - 9/8", "2024-08-05/2024-08-09"), ("3. 8. 2023", "2023-08-03"),
        ("24-May", "2024-05-24"),
    ],
)  # fmt: skip
def test_ways_of_writing_a_day(text: str, means: str) -> None:
    assert span_reader(Dates("day first", 2024))(text) == to_span(means)


@pytest.mark.parametrize(
    ("text", "order", "message"),
    [
        ("15/4", "day first", "has no year, and neither have the names of sheet and file"),
        ("4/15/2023", "day first", "there is no month 15"),
        ("15/4/2023", "month first", "there is no month 15"),
        ("31/2/2023", "day first", "is not a day of the calendar"),
        ("Monday", "day first", "is no date; write it as 2024-04-15, or day first as 15/4/2024"),
        ("45012", "day first", "is no date"),
        ("May-24", "day first", "can be a day or a month of a year; write the day first"),
    ],
)
def test_what_is_no_date_is_told(text: str, order: Order, message: str) -> None:
    with pytest.raises(RecordError, match=message):
        span_reader(Dates(order))(text)


def test_the_year_stands_in_a_name_only_if_it_is_one() -> None:
    assert year_in("picked 2023") == 2023
    assert year_in("", "2019-harvest") == 2019
    assert year_in("Harvest 2023 and 2024", "book 2022") == 2022
    assert year_in("bed 12", "no 120245") is None
    assert year_in("picked 2023-24", "book 2022") is None


def test_an_order_is_one_of_two() -> None:
    with pytest.raises(ArgumentError, match="give 'day first' or 'month first'"):
        an_order("dmy")
