"""Mean curves of groups of units: who is in them where, their band, and what is said against them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from perennia.analysis.seasons.curves import season_curves
from perennia.analysis.seasons.group_curves import GROUPED_BY, GroupCurves, group_curves
from perennia.analysis.seasons.group_means import FEWEST_FOR_A_BAND
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import BooksKept, Picked
from perennia.records.life import AlreadyHere, Died, Lifted, Removed, Sown
from perennia.records.places import Bed, Site
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, OVER, BuiltSource, day, picked, source_of, sown
from tests.lives import cropping_gardens
from tests.queries.built_views import built, with_ids

A = [sown("A1"), picked("A1", 60, 300.0)]
B = [sown("B1"), picked("B1", 63, 600.0), picked("B1", 70, 70.0)]
FIGURES = ["mean_cumulative", "low_cumulative", "high_cumulative", "mean_per_day", "low_per_day", "high_per_day"]
BAND = ["low_cumulative", "high_cumulative", "low_per_day", "high_per_day"]


def asked(records: Sequence[Record], by: Any = ("stock",), **choices: Any) -> GroupCurves:
    with source_of(*records) as source:
        return group_curves(source, by, **choices)


def old_root(label: str, bed: str = "B1") -> AlreadyHere:
    """A root of some years."""
    return AlreadyHere(label, day(0), crop=BEAN, since="../2020", bed=bed)


def many(plants: int, bed: str = "B1") -> list[Record]:
    """So many plants, the first with the least crop."""
    records: list[Record] = [OVER]
    for number in range(plants):
        records += [sown(f"P{number:02}", bed), picked(f"P{number:02}", 60 + number % 4, 100.0 + 10 * number)]
    return records


def test_a_mean_worked_by_hand() -> None:
    found = asked([OVER, *A, *B])
    table = found.table
    assert list(table) == ["crop", "season", "stock", "season_name", "on", "n", *FIGURES, "measure"]
    assert table["on"].tolist() == [pd.Timestamp(day(number)) for number in range(58, 71)]
    assert set(table["n"]) == {2}
    # A1 gave 100 g a day up to day 60 and stays level; B1 gave 200 g a day from day 61, then 10 g a day
    assert table["mean_cumulative"].tolist() == pytest.approx(
        [50, 100, 150, 250, 350, 450, *(450 + 5 * number for number in range(1, 8))]
    )
    assert table["mean_per_day"].tolist() == pytest.approx([50.0] * 3 + [100.0] * 3 + [5.0] * 7)
    assert table[BAND].isna().all(axis=None)
    assert found.n == 2
    assert found.findings == (
        f"{BEAN}, 2023, fresh, in g: 2 units; mean 485 g a plant by 10 July 2023 (n = 2, no band).",
    )
    assert "No band where fewer than 20 plants" in found.summary()
    assert "(2 units, everywhere)" in found.summary()


def test_the_curves_of_units_stand_beside_the_mean() -> None:
    curves = asked([OVER, *A, *B]).unit_curves
    assert list(curves) == [
        "crop", "season", "stock", "season_name", "unit", "on", "cumulative", "per_day", "plants", "measure",
    ]  # fmt: skip
    assert set(curves["season_name"]) == {"2023"}
    ours = curves[curves["unit"] == "A1/2023"]
    assert ours["cumulative"].tolist() == pytest.approx([100, 200, *[300] * 11])
    assert ours["per_day"].tolist() == pytest.approx([100] * 3 + [0] * 10)


def test_a_running_unit_leaves_the_mean_after_its_last_entry() -> None:
    found = asked([*A, *B])
    table = found.table
    assert table["n"].tolist() == [2] * 3 + [1] * 10
    assert table["mean_cumulative"].tolist()[2:6] == pytest.approx([150, 200, 400, 600])
    assert "(2 to 1)" in found.summary()
    # the last point is of B1 alone, and no mean of two units
    assert "2 units; mean 150 g a plant by 30 June 2023 (n = 2, no band), the last point with all" in found.findings[0]
    assert found.findings[0].endswith("; 1 unit on record to the end, mean 670 g a plant by 10 July 2023.")
    assert "up to its last entry" in found.summary()


@pytest.mark.parametrize("axis", ["date", "day_of_season", "days_since_start"])
def test_what_is_said_of_a_group_does_not_hang_on_the_step(axis: Any) -> None:
    told = {asked([*A, *B], axis=axis, step=step).findings for step in (1, 2, 3, 7, 30)}
    assert len(told) == 1
    assert "mean 150 g a plant" in told.pop()[0]


def test_a_unit_that_is_over_stays_level_while_others_run() -> None:
    found = asked([*A, *B, Removed("A1", day(61), reason="disease")])
    assert set(found.table["n"]) == {2}
    assert found.table["mean_cumulative"].iloc[-1] == pytest.approx((300 + 670) / 2)
    assert "falls" not in found.summary()


def test_labels_of_one_picking_are_one_unit_and_a_stand_is_taken_a_plant() -> None:
    records = [OVER, sown("A1"), sown("A2"), sown("S1", plants=5),
               picked(("A1", "A2"), 60, 300.0), picked("A2", 63, 90.0), picked("S1", 60, 1500.0)]  # fmt: skip
    found = asked(records)
    assert found.n == 2
    # 300 g off two plants and 90 g more; 1500 g off five
    ends = found.unit_curves.groupby("unit")["cumulative"].last()
    assert ends.to_dict() == pytest.approx({"A1/2023": 195, "S1/2023": 300})
    assert found.table["mean_cumulative"].iloc[-1] == pytest.approx(247.5)


def test_one_label_chosen_brings_those_it_shares_a_picking_with() -> None:
    records = [OVER, sown("A1"), sown("A2"), picked(("A1", "A2"), 60, 300.0), picked("A2", 63, 90.0), *B]
    found = asked(records, labels="A1")
    assert found.table["mean_cumulative"].iloc[-1] == pytest.approx(195)
    assert "1 label not asked for came along, sharing pickings with one that was." in found.summary()
    assert "came along" not in asked(records, labels=["A1", "A2/2023"]).summary()


@pytest.mark.parametrize("choice", [{"stock": "fresh", "by": ()}, {"by": "stock"}])
def test_a_unit_of_mixed_stock_is_of_neither(choice: dict[str, Any]) -> None:
    records = [OVER, sown("A1"), old_root("R1"), picked(("A1", "R1"), 60, 300.0), *B]
    found = asked(records, **choice)
    assert set(found.unit_curves["unit"]) == {"B1/2023"}
    assert "1 unit left out: their labels, linked by shared pickings, differ in stock." in found.summary()
    assert set(asked(records, by=()).unit_curves["unit"]) == {"A1/2023", "B1/2023"}


def test_what_is_known_to_have_given_nothing_counts_as_nothing() -> None:
    books = BooksKept("B1", date(2023, 1, 1), date(2023, 12, 31))
    found = asked([OVER, *A, sown("Z1"), books])
    assert set(found.table["n"]) == {2}
    assert found.table["mean_cumulative"].iloc[-1] == pytest.approx(150)
    assert "given nothing, which are in the mean as 0" in found.summary()
    # of which nothing is known is no 0
    found = asked([OVER, *A, sown("Z1")], seasons=2023)
    assert set(found.table["n"]) == {1}
    assert "1 unit left out: nothing was picked of them so far, or nothing shows" in found.summary()


def test_a_root_lost_in_the_winter_is_left_out_and_counted() -> None:
    lost = [sown("Z1", on=date(2022, 5, 1)), Lifted("Z1", date(2022, 11, 1)), Died("Z1", date(2023, 2, 1))]
    found = asked([OVER, *A, *lost], seasons=2023)
    assert set(found.table["n"]) == {1}
    assert "1 unit left out: no growth that season." in found.summary()


def test_units_whose_labels_lack_the_measure_are_left_out() -> None:
    records = [OVER, *A, sown("C1"), picked("C1", 60, count=9)]
    found = asked(records, measure="g")
    assert set(found.unit_curves["unit"]) == {"A1/2023"}
    assert "1 unit left out: no curve of every label in this measure" in found.summary()
    assert "1 plant season left out, for a picking was not weighed." in found.summary()
    # unless a measure is asked for each is in its own, and apart
    assert set(asked(records, by=()).table["measure"]) == {"g", "count"}


def test_units_with_a_picking_dated_too_vaguely_are_left_out() -> None:
    vague = Picked("C1", f"{day(60)}/{day(90)}", grams=300.0)
    found = asked([OVER, *A, sown("C1"), picked("C1", 60, 40.0), vague])
    assert set(found.unit_curves["unit"]) == {"A1/2023"}
    assert "1 unit left out: a picking of theirs is dated too vaguely (over 14 days) to be" in found.summary()


def test_seasons_of_both_hemispheres_are_apart_though_numbered_alike() -> None:
    south = [
        Site("far", latitude=-37.0), Bed("F1", "far"), Sown("S1", date(2023, 9, 1), crop="Oca", bed="F1"),
        Picked("S1", date(2024, 2, 1), grams=100.0), Noted(date(2025, 9, 1), bed="F1", what="weeded"),
    ]  # fmt: skip
    north = [Sown("N1", date(2023, 4, 1), crop="Oca", bed="B1"), Picked("N1", date(2023, 9, 1), grams=300.0)]
    found = asked([OVER, *north, *south], "season")
    assert found.table.groupby("season_name")["mean_cumulative"].max().to_dict() == {"2023": 300.0, "2023/24": 100.0}
    assert set(found.table["n"]) == {1}
    assert "the arms share" not in asked([OVER, *north, *south], "stock").summary()


def test_kinds_of_stock_without_a_bed_in_common_are_told_by_the_name_of_their_season() -> None:
    south = [Site("far", latitude=-37.0), Bed("F1", "far"), Bed("F2", "far")]
    fresh = [Sown("S1", date(2023, 9, 1), crop="Oca", bed="F1"), Picked("S1", date(2024, 2, 1), grams=100.0)]
    root = AlreadyHere("S2", date(2023, 9, 1), crop="Oca", since="../2020", bed="F2")
    old = [root, Picked("S2", date(2024, 2, 1), grams=90.0)]
    said = asked([OVER, *south, *fresh, *old]).summary()
    assert "2023/24: the arms share no bed (fresh against overwintered: F1 (1) against F2 (1))" in said


def test_groups_along_degree_days() -> None:
    warm = [Weather(day(number), site="plot", t_min_c=10.0, t_max_c=20.0) for number in range(1, 71)]
    found = asked([OVER, *A, *B, *warm], axis="degree_days", step=50)
    assert list(found.table)[:3] == ["crop", "stock", "degree_days"]
    assert found.table["degree_days"].tolist() == pytest.approx([400, 450, 490])
    assert found.table["mean_cumulative"].tolist() == pytest.approx(
        [50 / 7, (300 + 610 + 20 / 7) / 2, (300 + 670) / 2]
    )  # fmt: skip
    assert set(found.table["n"]) == {2}
    # B1 leaves the mean where the weather ends, though its season is over
    found = asked([OVER, *A, *B, *warm[:65]], axis="degree_days", step=50)
    assert found.table["degree_days"].tolist() == pytest.approx([400, 450, 455])
    assert found.table["n"].tolist() == [2, 2, 2]
    late = [OVER, *A, sown("C1", "B3"), picked("C1", 66, 60.0), *B, *warm[:65]]
    assert asked(late, axis="degree_days", step=50).table["n"].iloc[-1] == 3
    short = [Weather(day(number), bed="B3", t_min_c=10.0, t_max_c=20.0) for number in range(1, 65)]
    found = asked([*late, *short], axis="degree_days", step=50)
    assert found.table["n"].tolist() == [3, 3, 2, 2]
    assert "where the weather stops" in found.summary()


def test_units_that_missing_weather_cuts_short_are_counted_and_the_headline_is_not_of_a_whole_season() -> None:
    warm = [Weather(day(number), site="plot", t_min_c=10.0, t_max_c=20.0) for number in range(1, 71) if number != 66]
    found = asked([OVER, *A, *B, *warm], ("stock", "bed"), axis="degree_days", step=50)
    (headline,) = found.findings
    assert headline.endswith("(n = 2, no band); the curves of 1 unit end before the season does, for missing weather.")
    early = "Units whose curves end before the season does, for missing weather: "
    assert f"{early}{BEAN}, fresh, B1, in g (1 of 2)." in found.cautions
    assert f"{day(66)} is the first of 1 day of growth without both" in found.summary()
    # a season still running ends at its last entry, with all its weather
    whole = asked([*A, *B, *warm[:65], Weather(day(66), site="plot", t_min_c=10.0, t_max_c=20.0), *warm[65:]],
                  axis="degree_days", step=50)  # fmt: skip
    assert "missing weather" not in whole.summary()


def test_stock_that_shares_no_bed_is_said_to_be_confounded_with_it() -> None:
    kept = [old_root("R1", "B2"), old_root("R2", "B2"), picked("R1", 50, 500.0), picked("R2", 55, 100.0)]
    said = asked([OVER, *A, *B, *kept]).summary()
    assert "2023: the arms share no bed (fresh against overwintered: B1 (2) against B2 (2))" in said
    assert "the arms share no cover (fresh against overwintered: open (2) against tunnel (2))" in said
    # one of them beside the fresh ones, and it is no longer so
    said = asked([OVER, *A, *B, old_root("R1", "B1"), *kept[1:]]).summary()
    assert "the arms share" not in said


def test_the_band_stands_from_twenty_units_on() -> None:
    with source_of(*many(FEWEST_FOR_A_BAND)) as source:
        whole = group_curves(source)
        nineteen = group_curves(source, labels=[f"P{number:02}" for number in range(FEWEST_FOR_A_BAND - 1)])
        again = group_curves(source)
    assert set(whole.table["n"]) == {20}
    assert whole.table[BAND].notna().all(axis=None)
    assert set(nineteen.table["n"]) == {19}
    assert nineteen.table[BAND].isna().all(axis=None)
    assert "(19 units, everywhere)" in nineteen.summary()
    assert "No band" not in whole.summary()
    pd.testing.assert_frame_equal(again.table, whole.table)
    for kind in ("cumulative", "per_day"):
        low, mean, high = (whole.table[f"{end}_{kind}"] for end in ("low", "mean", "high"))
        assert ((low <= mean) & (mean <= high)).all()
    # the crops are 100, 110 ... 290 g: near enough to the normal interval of their mean
    last, crops = whole.table.iloc[-1], 100.0 + 10 * np.arange(20)
    half = 1.96 * crops.std() / np.sqrt(20)
    assert last["mean_cumulative"] == pytest.approx(crops.mean())
    assert last["low_cumulative"] == pytest.approx(crops.mean() - half, abs=4)
    assert last["high_cumulative"] == pytest.approx(crops.mean() + half, abs=4)
    assert "95 % band" in whole.findings[0]


def test_the_band_ends_where_running_units_leave_fewer_than_twenty() -> None:
    table = asked(many(22)[1:]).table
    # a quarter of them end on each of days 60 to 63
    there = table["n"] >= FEWEST_FOR_A_BAND
    assert there.any()
    assert not there.all()
    assert (table["low_cumulative"].notna() == there).all()


def test_seasons_of_one_plant_are_drawn_together() -> None:
    records: list[Record] = [OVER]
    for number in range(12):
        label = f"R{number}"
        records += [AlreadyHere(label, date(2022, 4, 1), crop=BEAN, since="../2020", bed="B1"),
                    Picked(label, date(2022, 7, 1), grams=200.0 + number), picked(label, 60, 300.0)]  # fmt: skip
    pooled = asked(records, axis="day_of_season")
    assert set(pooled.table["n"]) == {24}
    assert pooled.table[BAND].isna().all(axis=None)
    assert "again in another season, which tell less than new plants would" in pooled.summary()
    assert "again in another season" not in asked(records).summary()


@pytest.mark.parametrize("by", [(), *GROUPED_BY, tuple(GROUPED_BY)])
def test_groups_can_be_made_by_each_column(by: Any) -> None:
    other = AlreadyHere("R1", day(0), crop=BEAN, bed="B2")
    table = asked([OVER, *A, *B, other, picked("R1", 50, 500.0)], by, axis="day_of_season").table
    columns = list(by) if isinstance(by, tuple) else [by]
    assert list(table)[: len({"crop", *columns})] == list(dict.fromkeys(["crop", *columns]))
    assert {name: str(table[name].dtype) for name in columns} == {
        name: "Int64" if kind == "Int64" else "string" for name, kind in GROUPED_BY.items() if name in columns
    }  # fmt: skip
    apart = {"stock", "bed", "cover", "raised_from", "plant_season"} & set(columns)
    assert len(table.drop_duplicates(list(dict.fromkeys(["crop", *columns])))) == (2 if apart else 1)


@pytest.mark.parametrize("axis", ["date", "day_of_season", "days_since_start", "degree_days"])
def test_an_empty_garden(axis: Any) -> None:
    with built([]) as connection:
        found = group_curves(BuiltSource(connection), axis=axis, step=5)
    assert found.table.empty
    assert found.unit_curves.empty
    assert found.n == 0
    full = asked([OVER, *A], axis="date").table
    if axis == "date":
        assert found.table.dtypes.to_dict() == full.dtypes.to_dict()


@pytest.mark.parametrize(
    ("choice", "error", "message"),
    [
        ({"by": ("stock", "colour")}, AnalysisError, "groups cannot be made by colour: choose of stock, season"),
        ({"by": 3}, ArgumentError, "by is 3"),
        ({"axis": "week"}, AnalysisError, "unknown axis 'week'"),
        ({"measure": "total_g"}, AnalysisError, "unknown measure 'total_g': choose one of g, count"),
        ({"step": -2}, AnalysisError, "step is -2 days"),
    ],
)
def test_a_question_that_cannot_be_asked(choice: dict[str, Any], error: type[Exception], message: str) -> None:
    with source_of() as source, pytest.raises(error, match=message):
        group_curves(source, **choice)


@settings(
    max_examples=settings.default.max_examples // 3,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(
    cropping_gardens(), st.sampled_from(["date", "day_of_season", "days_since_start"]),
    st.sampled_from([None, "g", "count"]), st.integers(1, 5), st.sampled_from([(), ("bed",), ("stock", "cover")]),
)  # fmt: skip
def test_laws_of_a_mean(records: list[Record], axis: Any, measure: Any, step: int, by: Any) -> None:
    with built(with_ids(records)) as connection:
        source = BuiltSource(connection)
        found = group_curves(source, by, measure=measure, axis=axis, step=step)
        own = season_curves(source, measure=measure, axis=axis).table
        units = source.sql("select plant, season, unit, plants, sharing, finished from season_summary")
    column = "on" if axis == "date" else axis
    keys = [name for name in found.table if name not in (*FIGURES, "n", "measure")] + ["measure"]
    # the mean is that of the units there, and n their number
    curves = found.unit_curves.groupby(keys, dropna=False)
    means = curves.agg(units=("unit", "size"), mean=("cumulative", "mean"), rate=("per_day", "mean")).reset_index()
    both = found.table.merge(means, on=keys)
    assert len(both) == len(found.table) == len(means)
    assert both["n"].tolist() == both["units"].tolist()
    assert both["mean_cumulative"].to_numpy(float) == pytest.approx(both["mean"].to_numpy(float))
    assert both["mean_per_day"].to_numpy(float) == pytest.approx(both["rate"].to_numpy(float))
    # where a unit of one label has a curve, that is its own, a plant
    single = units[units["sharing"] == 1]
    labels = own.merge(single, on=["plant", "season"]).rename(columns={"cumulative": "of_label"})
    beside = found.unit_curves.merge(labels[["unit", "season", column, "of_label", "plants"]],
                                     on=["unit", "season", column], suffixes=("", "_there"))  # fmt: skip
    found_there = beside["cumulative"] * beside["plants"]
    assert found_there.to_numpy(float) == pytest.approx(beside["of_label"].to_numpy(float))
    # a running curve is never drawn beyond its last entry
    ends = own.groupby(["plant", "season"])[column].max()
    running = single[~single["finished"]]
    for row in running.to_dict("records"):
        drawn = found.unit_curves[(found.unit_curves["unit"] == row["unit"])
                                  & (found.unit_curves["season"] == row["season"])]  # fmt: skip
        assert drawn.empty or drawn[column].max() <= ends[row["plant"], row["season"]]
