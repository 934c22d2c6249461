"""Curves of plant seasons: in either measure, along any axis, thinned or not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from perennia.analysis import season_curves
from perennia.analysis.seasons.curve_points import multiples, read_at
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.base import Record
from perennia.records.life import AlreadyHere
from perennia.records.weather import Weather
from tests.analysis.built_source import OVER, BuiltSource, day, picked, source_of, sown
from tests.lives import cropping_gardens
from tests.queries.built_views import built, with_ids

# 3 days gather the first picking, 100 g a day; then 200 g a day for 3 days and 10 g a day for 7
RUN = [picked("A1", 60, 300.0), picked("A1", 63, 600.0), picked("A1", 70, 70.0)]
AXES = ("date", "day_of_season", "days_since_start", "degree_days")
SLOW = settings(
    max_examples=settings.default.max_examples // 3,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def warmth(last: int, low: float = 10.0, high: float = 20.0, first: int = 1, **place: str) -> list[Record]:
    """Days of the same weather from the day after the sowing on: 7 degree-days each for beans."""
    where = place or {"site": "plot"}
    return [Weather(day(number), t_min_c=low, t_max_c=high, **where) for number in range(first, last + 1)]


def asked(records: Sequence[Record], **choices: Any) -> tuple[pd.DataFrame, str]:
    """The table and all that is said of it."""
    with source_of(OVER, *records) as source:
        found = season_curves(source, **choices)
    return found.table, found.summary()


def test_a_curve_worked_by_hand() -> None:
    table, _ = asked([sown("A1"), *RUN])
    assert table["on"].tolist() == [pd.Timestamp(day(number)) for number in range(58, 71)]
    assert table["days_since_start"].tolist() == list(range(58, 71))
    assert table["cumulative"].tolist() == pytest.approx([100, 200, 300, 500, 700, 900, *range(910, 971, 10)])
    assert table["per_day"].tolist() == pytest.approx([100.0] * 3 + [200.0] * 3 + [10.0] * 7)
    assert table["cumulative_g"].tolist() == table["cumulative"].tolist()
    assert table["cumulative_count"].isna().all()
    assert "degree_days" not in table


def test_curves_that_hold_shares_are_told() -> None:
    shared = [sown("A1"), sown("A2"), picked(("A1", "A2"), 60, 300.0), sown("A3"), picked("A3", 60, 300.0)]
    assert "2 curves with shares of pickings off several labels, split evenly." in asked(shared)[1]
    assert "shares" not in asked(shared, labels=["A3"])[1]


def test_a_row_every_so_many_days_and_the_last() -> None:
    table, _ = asked([sown("A1"), *RUN], step=5)
    assert table["days_since_start"].tolist() == [58, 63, 68, 70]
    assert table["cumulative"].tolist() == pytest.approx([100, 900, 950, 970])


def test_a_curve_along_degree_days_worked_by_hand() -> None:
    table, said = asked([sown("A1"), *RUN, *warmth(70)], axis="degree_days", step=50)
    # at 400 a seventh of day 58 had passed, at 450 two sevenths of day 65
    assert table["degree_days"].tolist() == pytest.approx([400, 450, 490])
    assert table["days_since_start"].tolist() == [58, 65, 70]
    assert table["cumulative"].tolist() == pytest.approx([100 / 7, 910 + 20 / 7, 970])
    assert table["cumulative_g"].tolist() == table["cumulative"].tolist()
    assert table["per_day"].tolist() == pytest.approx([100, 10, 10])
    assert "left out" not in said


def test_a_day_too_cold_to_add_is_passed_over() -> None:
    records = [sown("A1"), *RUN, *warmth(60), *warmth(62, -5.0, 5.0, first=61), *warmth(70, first=63)]
    table, _ = asked(records, axis="degree_days", step=420)
    # 420 is met at the ends of days 60, 61 and 62: the last is meant
    assert table["days_since_start"].tolist() == [62, 70]
    assert table["degree_days"].tolist() == pytest.approx([420, 476])
    assert table["cumulative"].tolist() == pytest.approx([700, 970])


@pytest.mark.parametrize("lacking", [{"t_max_c": 20.0}, {"t_min_c": 10.0}, None])
def test_a_day_without_both_temperatures_ends_the_sum(lacking: dict[str, float] | None) -> None:
    half = [] if lacking is None else [Weather(day(64), site="plot", **lacking)]
    records = [sown("A1"), *RUN, *warmth(63), *half, *warmth(70, first=65)]
    table, said = asked(records, axis="degree_days", step=50)
    assert table["degree_days"].tolist() == pytest.approx([400, 441])
    assert table["cumulative"].tolist() == pytest.approx([100 / 7, 900])
    assert f"7 rows of 1 curve left out, for the temperatures of site plot are not whole; {day(64)}" in said
    assert f"{day(64)} is the first of 1 day of growth without both, and no sum goes over a gap." in said


def test_days_without_temperatures_are_counted_once_however_many_curves_lack_them() -> None:
    records = [sown("A1"), sown("A2"), *RUN, picked("A2", 68, 90.0)]
    _, said = asked([*records, *warmth(61), *warmth(64, first=63), *warmth(67, first=66)], axis="degree_days")
    assert said.count("no sum goes over a gap") == 1
    # days 62, 65 and 68 to 70 of A1; A2 was picked up to day 68
    assert f"{day(62)} is the first of 5 days of growth without both" in said
    _, said = asked([*records[1:2], records[-1], *warmth(61), *warmth(67, first=63)], axis="degree_days")
    assert f"{day(62)} is the first of 2 days of growth without both" in said


def test_weather_before_the_start_adds_nothing_and_its_lack_does_no_harm() -> None:
    plain, _ = asked([sown("A1"), *RUN, *warmth(70)], axis="degree_days", step=50)
    more, _ = asked([sown("A1"), *RUN, *warmth(70), *warmth(0, first=-20)], axis="degree_days", step=50)
    pd.testing.assert_frame_equal(plain, more)


def test_a_bed_with_weather_of_its_own_is_not_summed_from_the_site() -> None:
    outside, inside = warmth(70), warmth(70, 20.0, 30.0, bed="B2")
    records = [sown("A1", "B2"), *RUN, *outside]
    assert asked(records, axis="degree_days")[0]["degree_days"].max() == pytest.approx(490)
    assert asked([*records, *inside], axis="degree_days")[0]["degree_days"].max() == pytest.approx(70 * 17)
    # and a gap in it is not filled from outside
    table, said = asked([*records, *inside[:20], *inside[21:]], axis="degree_days")
    assert table.empty
    assert f"bed B2 are not whole; {day(21)}" in said


def test_what_has_no_place_on_an_axis_is_counted_with_the_reason() -> None:
    here = AlreadyHere("A1", day(0), crop="Phaseolus coccineus", since="../2020", bed="B1")
    table, said = asked([here, sown("A2"), *RUN, picked("A2", 50, 90.0)], axis="days_since_start")
    assert set(table["label"]) == {"A2"}
    assert "13 rows of 1 curve left out, for the day their growth is counted from is not recorded to the day." in said
    table, said = asked([sown("A1"), *RUN], axis="degree_days")
    assert table.empty
    assert "13 rows of 1 curve left out, for no temperatures are recorded of bed B1 or its site." in said
    table, said = asked([sown("A1", crop="Oca"), *RUN, *warmth(70)], axis="degree_days")
    assert table.empty
    assert "of 1 curve left out, for the profile of Oca has no base temperature." in said


def test_curves_in_one_measure() -> None:
    both = [picked("C1", 60, 300.0, count=30), picked("C1", 64, 80.0, count=20, clearance=True)]
    records = [sown("A1"), sown("B1"), sown("C1"), *RUN, picked("B1", 60, count=12), *both]
    grams, said = asked(records, measure="g")
    assert set(grams["label"]) == {"A1", "C1"}
    assert "1 plant season left out, for a picking was not weighed." in said
    counts, said = asked(records, measure="count")
    assert set(counts["label"]) == {"B1", "C1"}
    assert "1 plant season left out, for a picking was not counted." in said
    assert set(counts["measure"]) == {"count"}
    ours = counts[counts["label"] == "C1"]
    assert ours["cumulative"].tolist() == pytest.approx([10, 20, 30, 35, 40, 45, 50])
    assert ours["per_day"].tolist() == pytest.approx([10, 10, 10, 0, 0, 0, 0])
    assert ours["cumulative_g"].tolist() == pytest.approx([100, 200, 300, 320, 340, 360, 380])
    own, said = asked(records)
    assert dict(zip(own["label"], own["measure"], strict=True)) == {"A1": "g", "B1": "count", "C1": "g"}
    assert "left out" not in said


def test_a_season_weighed_in_part_and_counted_in_part_has_no_curve_and_is_counted() -> None:
    table, said = asked([sown("A1"), picked("A1", 60, 300.0), picked("A1", 63, count=4)])
    assert table.empty
    assert "1 plant season left out, for some pickings were not weighed and some not counted." in said


def test_curves_of_one_kind_of_stock() -> None:
    old = AlreadyHere("R1", day(0), crop="Phaseolus coccineus", since="../2020", bed="B1")
    records = [sown("A1"), old, *RUN, picked("R1", 40, 500.0)]
    assert set(asked(records, stock="fresh")[0]["label"]) == {"A1"}
    assert set(asked(records, stock=["overwintered"])[0]["label"]) == {"R1"}
    assert set(asked(records, stock=("fresh", "overwintered"))[0]["label"]) == {"A1", "R1"}


@pytest.mark.parametrize("axis", AXES)
@pytest.mark.parametrize("measure", [None, "g", "count"])
def test_an_empty_garden(axis: Any, measure: Any) -> None:
    with built([]) as connection:
        found = season_curves(BuiltSource(connection), axis=axis, measure=measure, step=7)
    assert found.table.empty
    assert found.n == 0
    assert ("degree_days" in found.table) == (axis == "degree_days")


@pytest.mark.parametrize(
    ("choice", "error", "message"),
    [
        ({"axis": "month"}, AnalysisError, "unknown axis 'month': choose one of date, day_of_season, days_since_start"),
        ({"measure": "kg"}, AnalysisError, "unknown measure 'kg': choose one of g, count"),
        ({"stock": "old"}, AnalysisError, "unknown stock 'old': choose one of fresh, overwintered"),
        ({"step": 0}, AnalysisError, "step is 0 days; give 1"),
        ({"step": 1.5}, ArgumentError, "step is 1.5; give a whole number"),
        ({"axis": "degree_days", "step": 0}, ArgumentError, "step is 0; give a number above 0"),
        ({"axis": 3}, ArgumentError, "axis is 3, which is no text"),
        ({"seasons": "last"}, ArgumentError, "seasons"),
    ],
)
def test_a_question_that_cannot_be_asked(choice: dict[str, Any], error: type[Exception], message: str) -> None:
    with source_of() as source, pytest.raises(error, match=message):
        season_curves(source, **choice)


@SLOW
@given(cropping_gardens())
def test_a_curve_ends_at_the_total_in_its_measure(records: list[Record]) -> None:
    with built(with_ids(records)) as connection:
        source = BuiltSource(connection)
        totals = source.sql("select * from season_summary where picks > 0 and spans_left_out = 0")
        for measure, column in (("g", "total_g"), ("count", "count")):
            table = season_curves(source, measure=measure).table
            ends = table.groupby(["plant", "season"])["cumulative"].last()
            for row in totals.to_dict("records"):
                key = (row["plant"], row["season"])
                assert (key in ends) == pd.notna(row[column])
                assert key not in ends or ends[key] == pytest.approx(float(row[column]))


@SLOW
@given(cropping_gardens(), st.integers(1, 9), st.sampled_from(AXES[:3]), st.sampled_from([None, "g", "count"]))
def test_an_axis_and_a_step_only_choose_rows(records: list[Record], step: int, axis: Any, measure: Any) -> None:
    with built(with_ids(records)) as connection:
        source = BuiltSource(connection)
        whole = season_curves(source, measure=measure).table
        thin = season_curves(source, measure=measure, axis=axis, step=step).table
    column = "on" if axis == "date" else axis
    placed = whole[whole[column].notna()].reset_index(drop=True)
    curve = placed.groupby(["plant", "season"], sort=False)
    kept = (curve.cumcount() % step == 0) | (curve.cumcount(ascending=False) == 0)
    pd.testing.assert_frame_equal(thin, placed[kept].reset_index(drop=True))


@given(
    st.lists(st.sampled_from([0.0, 0.0, 0.5, 3.0, 7.0]), min_size=1, max_size=12), st.floats(0.5, 9), st.floats(0, 50)
)
def test_values_between_days_lie_between_their_crops(added: list[float], step: float, start: float) -> None:
    axis = start + np.cumsum(added)
    before = np.concatenate([[start], axis[:-1]])
    at = multiples(before[0], axis[-1], step)
    assert at[-1] == axis[-1]
    assert (np.diff(at) > 0).all()
    row, part = read_at(axis, before, at)
    assert ((row >= 0) & (row < axis.size)).all()
    assert before[row] + part * (axis[row] - before[row]) == pytest.approx(at)
    # by days: crop that ripens evenly day by day reads as the days gone, whole days too cold to add being gone at once
    gone = row + part
    assert (np.diff(gone) > 0).all()
    assert gone[-1] == axis.size
