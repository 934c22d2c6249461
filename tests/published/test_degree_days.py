"""Degree-days of a day against McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, 291-300, Table 1.

Base 0 degrees C; method 1 (the mean held to the base) is that of the view and the curves; method 2 (each temperature
held to the base first) is what these must not be. The table as carried by a test of the R package degday. Below it,
the triangles and sines of Zalom et al. 1983.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from perennia.analysis import degree_days
from perennia.analysis.causes.warmth.degree_day_methods import Method, degree_days_of
from perennia.analysis.seasons.curves import season_curves
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import Sown
from perennia.records.places import Bed, Site
from perennia.records.weather import Weather
from tests.analysis.built_source import BuiltSource
from tests.queries.built_views import built, with_ids

T_MAX_C = [20, 10, 8, 6, 10, 5, -2, -5, 10, 15]
T_MIN_C = [10, 1, -2, 0, 5, -5, -7, -10, -2, 2]
METHOD_1 = [15, 5.5, 3, 3, 7.5, 0, 0, 0, 4, 8.5]
METHOD_2 = [15, 5.5, 4, 3, 7.5, 2.5, 0, 0, 5, 8.5]
SOWN = date(2023, 3, 31)
# the one profile whose base is 0 degrees C
CROP = "Fragaria x ananassa"


def _garden() -> list[Record]:
    weather = [
        Weather(SOWN + timedelta(number), site="Bench", t_min_c=low, t_max_c=high)
        for number, (low, high) in enumerate(zip(T_MIN_C, T_MAX_C, strict=True), start=1)
    ]
    return [
        Site("Bench", latitude=40.0), Bed("B1", "Bench"), Sown("A1", SOWN, crop=CROP, bed="B1"), *weather,
        Picked("A1", SOWN + timedelta(10), grams=100.0), Noted(date(2024, 2, 1), bed="B1", what="dug over"),
    ]  # fmt: skip


def test_degree_days_of_each_day_are_those_of_the_table() -> None:
    with built(with_ids(_garden())) as connection:
        rows = connection.sql('select base_c, degree_days from degree_days order by "on"').fetchall()
    assert {base for base, _ in rows} == {0}
    found = [warmth for _, warmth in rows]
    assert found == pytest.approx(METHOD_1, abs=1e-9)
    assert found != pytest.approx(METHOD_2, abs=1e-9)


def test_a_curve_ends_at_their_sum() -> None:
    with built(with_ids(_garden())) as connection:
        table = season_curves(BuiltSource(connection), axis="degree_days", step=10).table
    assert table["degree_days"].iloc[-1] == pytest.approx(sum(METHOD_1), abs=1e-9)
    assert table["cumulative"].iloc[-1] == pytest.approx(100)


@pytest.mark.parametrize(("method", "expected"), [("average", METHOD_1), ("average floored", METHOD_2)])
def test_both_averages_are_those_of_the_table(method: Method, expected: list[float]) -> None:
    found = degree_days_of(np.array(T_MIN_C, float), np.array(T_MAX_C, float), 0, None, method)
    assert found.tolist() == pytest.approx(expected, abs=1e-9)


# Zalom, Goodell, Wilson, Barnett and Bentley 1983, University of California leaflet 21373, table 7, as carried by a
# test of the R package degday: thresholds 55 and 90 degrees F, horizontal cutoff. Lowest, highest and next lowest
# temperature; single triangle, single sine, double triangle, double sine. One figure (24.88) is left out, which the
# authors of that package take for a misprint.
ZALOM = [
    (96, 110, 91, 35.00, 35.00, 35.00, 35.00), (91, 105, 96, 35.00, 35.00, 35.00, 35.00),
    (45, 54, 38, 0, 0, 0, 0), (38, 50, 45, 0, 0, 0, 0),
    (60, 80, 75, 15.00, 15.00, 18.75, 18.75), (75, 88, 60, 26.50, 26.50, 22.75, 22.75),
    (50, 82, 45, 11.39, 11.85, 10.62, 11.31), (45, 70, 50, 4.50, 5.31, 5.06, 5.70),
    (60, 100, 75, 23.75, 22.82, None, 26.26), (75, 95, 60, 29.38, 28.91, 25.76, 25.30),
    (50, 101, 48, 19.56, 18.95, 19.19, 18.69), (48, 95, 50, 16.76, 16.96, 17.13, 17.23),
]  # fmt: skip
SHAPES: tuple[Method, ...] = ("single triangle", "single sine", "double triangle", "double sine")


@pytest.mark.parametrize(("low", "high", "following", "method", "expected"), [
    (*row[:3], method, expected) for row in ZALOM for method, expected in zip(SHAPES, row[3:], strict=True)
    if expected is not None
])  # fmt: skip
def test_triangles_and_sines_are_those_of_the_leaflet(
    low: float, high: float, following: float, method: Method, expected: float
) -> None:
    found = degree_days_of(np.array([low, following], float), np.array([high, np.nan]), 55, 90, method)
    assert found[0] == pytest.approx(expected, abs=0.0051)


def test_the_modified_average_is_that_of_the_package() -> None:
    """Both ends held, 40 and 90 degrees F, from a test of the R package degday."""
    found = degree_days_of(
        np.array([30.0, 30, 38, 47, 63]), np.array([39.0, 45, 100, 80, 95]), 40, 90, "average floored"
    )
    assert found.tolist() == pytest.approx([0, 2.5, 25, 23.5, 36.5], abs=1e-9)


def test_the_question_sums_the_table() -> None:
    with built(with_ids(_garden())) as connection:
        answer = degree_days(BuiltSource(connection), "B1", 0)
    assert answer.table["degree_days"].tolist() == pytest.approx(METHOD_1, abs=1e-9)
    assert answer.table["sum"].iloc[-1] == pytest.approx(sum(METHOD_1), abs=1e-9)
    assert answer.measured_at == "site Bench"
