"""Degree-days of a day against McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, 291-300, Table 1.

Base 0 degrees C; method 1 (the mean held to the base) is ours; method 2 (each temperature held to the base first) is
what it must not be. The table as carried by a test of the R package degday.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

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
