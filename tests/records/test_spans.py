"""Days and spans of days: ISO 8601-1 and 8601-2 forms, good and bad."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import RecordError
from perennia.records.spans import EARLIEST, Span, to_day_or_none, to_span, to_span_or_none, unit_in_words
from tests.records.field_values import DAYS, spans


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("2024-04-15", date(2024, 4, 15), date(2024, 4, 15)),
        (" 2024-04-15 ", date(2024, 4, 15), date(2024, 4, 15)),
        ("2024-04", date(2024, 4, 1), date(2024, 4, 30)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2023-02", date(2023, 2, 1), date(2023, 2, 28)),
        ("2024-12", date(2024, 12, 1), date(2024, 12, 31)),
        ("2024", date(2024, 1, 1), date(2024, 12, 31)),
        ("2024-04-15~", date(2024, 4, 12), date(2024, 4, 18)),
        ("2024-04~", date(2024, 3, 17), date(2024, 5, 15)),
        ("2024~", date(2023, 7, 2), date(2025, 7, 2)),
        ("2024-04-02/2024-04-09", date(2024, 4, 2), date(2024, 4, 9)),
        ("2024-04/2024-05", date(2024, 4, 1), date(2024, 5, 31)),
        ("2023/2024-02", date(2023, 1, 1), date(2024, 2, 29)),
        ("2024-04~/2024-06", date(2024, 3, 17), date(2024, 6, 30)),
        ("2024-04-15/2024-04-15", date(2024, 4, 15), date(2024, 4, 15)),
        ("../2018", None, date(2018, 12, 31)),
        ("/2018-05", None, date(2018, 5, 31)),
    ],
)
def test_text_is_read(text: str, start: date | None, end: date) -> None:
    assert to_span(text) == Span(start, end)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("15/04/2024", "not an ISO 8601 date"),
        ("04/15/2024", "not an ISO 8601 date"),
        ("15.04.2024", "not an ISO 8601 date"),
        ("2024-4-5", "not an ISO 8601 date"),
        ("20240415", "not an ISO 8601 date"),
        ("24-04-15", "not an ISO 8601 date"),
        ("April 2024", "not an ISO 8601 date"),
        ("2024-04-15T10:00", "not an ISO 8601 date"),
        ("2024-04-15?", "not an ISO 8601 date"),
        ("~2024", "not an ISO 8601 date"),
        ("2024-04-XX", "not an ISO 8601 date"),
        ("", "not an ISO 8601 date"),
        ("2024-02-30", "not a day of the calendar"),
        ("2023-02-29", "not a day of the calendar"),
        ("2024-13", "not a day of the calendar"),
        ("0000", "not a day of the calendar"),
        ("2024-04-02/..", "has no end; give the last day"),
        ("2024-04-02/", "has no end; give the last day"),
        ("../..", "has no end; give the last day"),
        ("2024-04-02/2024-04-03/2024-04-04", "not an ISO 8601 date"),
        ("2024-04-09/2024-04-02", "starts on 2024-04-09 after it ends on 2024-04-02; write the earlier day first"),
        ("1899-12-31", "is before 1900-01-01; check the year"),
        ("0224-04-15", "is before 1900-01-01; check the year"),
        ("../1850", "is before 1900-01-01; check the year"),
    ],
)
def test_other_text_is_refused_and_never_guessed(text: str, message: str) -> None:
    with pytest.raises(RecordError, match=message):
        to_span(text)


@pytest.mark.parametrize("value", [None, 2024, 20240415, 3.5, ["2024"], timedelta(1)])
def test_other_things_are_refused(value: object) -> None:
    with pytest.raises(RecordError, match="is not a date; write it as"):
        to_span(value)  # type: ignore[arg-type]


def test_dates_and_times_are_days() -> None:
    assert to_span(date(2024, 4, 15)) == to_span(datetime(2024, 4, 15, 18, 30)) == to_span("2024-04-15")
    assert to_span(EARLIEST).end == EARLIEST


def test_the_length_of_a_span() -> None:
    assert to_span("2024-04-15").days == 1
    assert to_span("2024-02").days == 29
    assert to_span("../2018").days is None


def test_a_single_day_is_wanted() -> None:
    assert to_day_or_none(None) is None
    assert to_day_or_none("2024-04-15") == to_day_or_none(date(2024, 4, 15)) == date(2024, 4, 15)
    for text in ("2024-04", "2024-04-15~", "../2018-05-01"):
        with pytest.raises(RecordError, match="is more than one day"):
            to_day_or_none(text)


def test_a_missing_span_stays_missing() -> None:
    assert to_span_or_none(None) is None
    assert to_span_or_none("2024-04") == to_span("2024-04")


@given(spans())
def test_a_span_is_read_back_from_its_own_text(span: Span) -> None:
    assert to_span(str(span)) == span
    assert to_span(span) is span


@given(DAYS, st.sampled_from(["%Y-%m-%d", "%Y-%m", "%Y"]), st.booleans())
def test_a_span_holds_the_day_it_was_written_for(day: date, form: str, about: bool) -> None:
    span = to_span(day.strftime(form) + ("~" if about else ""))
    assert span.start is not None
    assert span.start <= day <= span.end
    wider = to_span(day.strftime(form) + "~")
    assert wider.start is not None
    assert wider.start <= span.start <= span.end <= wider.end


@pytest.mark.parametrize(
    ("text", "why"),
    [("2023-02-30", "February 2023 has 28 days"), ("2023-13", "there is no month 13"),
     ("2024-04-31~", "April 2024 has 30 days"), ("0000-05-01", "there is no year 0")],
)  # fmt: skip
def test_a_day_that_is_none_is_told_why(text: str, why: str) -> None:
    with pytest.raises(RecordError, match=f"is not a day of the calendar: {why}$"):
        to_span(text)


def test_a_span_is_told_as_the_book_has_it() -> None:
    told = {
        "2024-03-05": "on 2024-03-05", "2024-03": "in March 2024", "2024-02": "in February 2024",
        "2024-03~": "about March 2024", "2019": "in 2019", "2019~": "about 2019", "2024-03-05~": "about 2024-03-05",
        "2024-07-02/2024-07-09": None,
    }  # fmt: skip
    for text, said in told.items():
        span = to_span(text)
        assert span.start is not None
        assert unit_in_words(span.start, span.end) == said, text
    # what is refused is told too, and then as it stands
    assert unit_in_words(date(2024, 7, 16), date(2024, 7, 15)) is None
    assert unit_in_words(date(1, 1, 1), date(1, 1, 1)) is None


@given(DAYS, st.sampled_from(["%Y-%m-%d", "%Y-%m", "%Y"]), st.booleans())
def test_every_unit_is_told_again_from_its_days(day: date, form: str, about: bool) -> None:
    span = to_span(day.strftime(form) + ("~" if about else ""))
    assert span.start is not None
    said = unit_in_words(span.start, span.end)
    assert said is not None
    assert said.startswith("about ") == about
    assert str(day.year) in said


@given(DAYS, DAYS)
def test_a_backward_span_is_refused(first: date, last: date) -> None:
    if first <= last:
        assert Span(first, last).days == (last - first).days + 1
    else:
        with pytest.raises(RecordError, match="write the earlier day first"):
            Span(first, last)
