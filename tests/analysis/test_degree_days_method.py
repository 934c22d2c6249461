"""Degree-days of a place: laws of the methods, gaps that end the sum, and whose weather it is."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis import degree_days
from perennia.analysis.causes.warmth.degree_day_methods import METHODS, Method, degree_days_of
from perennia.errors import AnalysisError, ArgumentError, UnknownLabelError
from perennia.records.base import Record
from perennia.records.places import Bed
from perennia.records.weather import Weather
from tests.analysis.built_source import source_of

TEMPERATURES = st.floats(-20, 40)
DAYS = st.lists(st.tuples(TEMPERATURES, TEMPERATURES).map(sorted), min_size=2, max_size=6)
BASES = st.floats(-5, 20)
FIRST = date(2023, 5, 1)


def warmth(days: list[list[float]], base: float, upper: float | None, method: Method) -> np.ndarray:
    low, high = np.array(days, dtype=float).T
    return degree_days_of(low, high, base, upper, method)[:-1]


@given(DAYS, BASES, st.floats(0.5, 20), st.sampled_from(METHODS))
def test_a_day_has_from_nothing_to_the_span_between_the_thresholds(
    days: list[list[float]], base: float, span: float, method: Method
) -> None:
    found = warmth(days, base, base + span, method)
    assert (found >= -1e-9).all()
    assert (found <= span + 1e-9).all()
    assert (found <= warmth(days, base, None, method) + 1e-9).all()


@given(DAYS, BASES, st.floats(0, 5), st.sampled_from(METHODS))
def test_a_lower_base_and_a_warmer_day_never_have_less(
    days: list[list[float]], base: float, more: float, method: Method
) -> None:
    found = warmth(days, base, None, method)
    assert (warmth(days, base - more, None, method) >= found - 1e-9).all()
    assert (warmth([[low + more, high + more] for low, high in days], base, None, method) >= found - 1e-9).all()


@given(DAYS, BASES)
def test_single_shapes_lie_between_the_two_averages(days: list[list[float]], base: float) -> None:
    """Warmth that is convex in the temperature is least of the mean, and most of the two ends."""
    least, most = (warmth(days, base, None, method) for method in ("average", "average floored"))
    for method in ("single triangle", "single sine"):
        found = warmth(days, base, None, method)
        assert (least - 1e-9 <= found).all()
        assert (found <= most + 1e-9).all()


def test_a_day_of_one_temperature_has_what_lies_above_the_base() -> None:
    for method in METHODS:
        assert warmth([[9.0, 9.0], [9.0, 9.0]], 8, None, method).tolist() == [1.0]
        assert warmth([[8.0, 8.0 + 5e-324], [8.0, 8.0]], 8, None, method).tolist() == [0.0]


@given(st.lists(st.tuples(st.floats(10, 20), st.floats(20, 40)), min_size=2, max_size=6))
def test_all_agree_where_the_day_is_wholly_above_the_base(days: list[list[float]]) -> None:
    expected = warmth(days, 10, None, "average")
    for method in ("average floored", "single triangle", "single sine"):
        assert warmth(days, 10, None, method) == pytest.approx(expected)


@given(DAYS, BASES, st.sampled_from(METHODS), st.sampled_from([0, 1]))
def test_a_missing_temperature_leaves_the_day_without(
    days: list[list[float]], base: float, method: Method, which: int
) -> None:
    days = [list(day) for day in days]
    days[0][which] = float("nan")
    assert np.isnan(warmth(days, base, None, method)[0])


def weather(days: dict[int, tuple[float | None, float | None]], **place: str) -> list[Record]:
    return [
        Weather(FIRST + timedelta(number), t_min_c=low, t_max_c=high, rain_mm=0.0, **place)
        for number, (low, high) in days.items()
    ]


def test_a_gap_ends_the_sum_and_is_counted() -> None:
    with source_of(*weather({0: (8, 12), 1: (8, 14), 3: (8, 16), 4: (None, 16), 5: (9, 9)}, site="plot")) as source:
        answer = degree_days(source, "plot", 8)
    table = answer.table
    assert table["degree_days"].tolist()[:2] == [2, 3]
    assert table["degree_days"].isna().tolist() == [False, False, True, False, True, False]
    assert table["sum"].tolist()[:2] == [2, 5]
    assert table["sum"].isna().tolist() == [False, False, True, True, True, True]
    assert (answer.n, answer.missing) == (4, 2)
    assert "2 of 6 days lack a temperature, the first of them 2023-05-03" in answer.summary()
    assert "Write down what they lack (2023-05-03, 2023-05-05)" in answer.summary()
    assert "had 5 degree-days above 8 degrees C" in answer.summary()


def test_the_days_asked_for_and_the_thresholds_count() -> None:
    with source_of(*weather(dict.fromkeys(range(10), (10, 30)), site="plot")) as source:
        whole = degree_days(source, "plot", 8)
        part = degree_days(source, "plot", 8, since="2023-05-03", until=date(2023, 5, 4))
        capped = degree_days(source, "plot", 8, 25, "average floored")
        beyond = degree_days(source, "plot", 8, since="2023-04-30")
        double = degree_days(source, "plot", 8, method="double sine")
    assert whole.table["sum"].iloc[-1] == 120
    assert part.table["sum"].tolist() == [12, 24]
    assert capped.table["degree_days"].iloc[0] == 9.5
    assert beyond.table["sum"].isna().all()
    assert "nothing can be summed" in beyond.findings[0]
    # the last day has no next one
    assert double.missing == 1


def test_a_bed_goes_by_its_own_weather_and_else_by_its_sites() -> None:
    records = [
        *weather(dict.fromkeys(range(3), (8, 12)), site="plot"),
        *weather(dict.fromkeys(range(3), (8, 20)), bed="B2"),
    ]
    with source_of(*records, Bed("plot", "plot")) as source:
        inside, outside = degree_days(source, "B2", 8), degree_days(source, "B1", 8)
        with pytest.raises(AnalysisError, match="name of a site and of a bed"):
            degree_days(source, "plot", 8)
    assert (inside.measured_at, outside.measured_at) == ("bed B2", "site plot")
    assert (inside.table["sum"].iloc[-1], outside.table["sum"].iloc[-1]) == (18, 6)
    assert any("stand in" in caution for caution in outside.cautions)
    assert inside.cautions == ()


def test_what_cannot_be_asked_is_refused_in_words() -> None:
    with source_of(*weather({0: (8, 12)}, bed="B1")) as source:
        with pytest.raises(UnknownLabelError, match="its sites are plot; its beds are B1, B2, B3"):
            degree_days(source, "moon", 8)
        with pytest.raises(AnalysisError, match="no weather is recorded of bed B2 or its site plot"):
            degree_days(source, "B2", 8)
        with pytest.raises(AnalysisError, match="choose one of average, average floored"):
            degree_days(source, "B1", 8, method="mean")  # type: ignore[arg-type]
        with pytest.raises(AnalysisError, match="must be above the base"):
            degree_days(source, "B1", 8, 8)
        with pytest.raises(ArgumentError, match="give a temperature"):
            degree_days(source, "B1", "warm")  # type: ignore[arg-type]
        with pytest.raises(AnalysisError, match="begin on 2023-06-01, after they end"):
            degree_days(source, "B1", 8, since="2023-06-01", until="2023-05-01")


def test_days_outside_the_weather_are_refused() -> None:
    with (
        source_of(*weather({0: (8, 12)}, site="plot")) as source,
        pytest.raises(AnalysisError, match="weather of site plot is recorded from 2023-05-01 to 2023-05-01"),
    ):
        degree_days(source, "plot", 8, until="2023-04-01")
