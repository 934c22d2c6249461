"""What flowers came to: fates, truss counts, losses by two kinds of day, shares of plants and their intervals."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from perennia.analysis.causes.setting.flowers import books_of
from perennia.analysis.causes.setting.pod_set import PodSet, pod_set, pod_set_of
from perennia.analysis.causes.setting.pod_set_tables import falling
from perennia.analysis.causes.setting.proportions import beta_binomial_interval, logistic, mean_share
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.flowering import ENDS, FlowerFate, TrussCount
from tests.analysis.built_source import BEAN, BuiltSource, source_of, sown

JULY = date(2023, 7, 1)
LAST = 60


def on(number: int | None) -> date | None:
    """The day so many after 1 July."""
    return None if number is None else JULY + timedelta(number)


def row(**given: Any) -> dict[str, Any]:
    """A row of flowering with season_name; days as numbers after 1 July."""
    usual: dict[str, Any] = dict.fromkeys(
        ("truss", "position", "opened_on", "set_on", "ended_on", "end", "opened", "set", "dropped", "full_size", "note")
    ) | {"plant": "A1/2023", "label": "A1", "crop": BEAN, "season": 2023, "season_name": "2023", "truss": "t1"}
    filled = usual | given
    for name in ("opened_on", "set_on", "ended_on", "on_to"):
        filled[name] = pd.Timestamp(on(filled[name])) if filled.get(name) is not None else pd.NaT
    return filled | {"record_id": repr(sorted(map(str, given.items())))}


def flower(position: int, opened: int | None, end: str | None = None, **given: Any) -> dict[str, Any]:
    """A flower_fate row."""
    days = [day for day in (opened, given.get("set_on"), given.get("ended_on")) if day is not None]
    return row(event="flower_fate", position=position, opened_on=opened, end=end, on_to=max(days), **given)


def count(day: int, **given: Any) -> dict[str, Any]:
    """A truss_count row."""
    return row(event="truss_count", on_to=day, **given)


def answer(*rows: dict[str, Any], level: float = 0.95, **given: Any) -> PodSet:
    return pod_set_of(books_of(pd.DataFrame(rows), **given), level)


FATES = (
    flower(1, 0, "picked", set_on=4, ended_on=20),
    flower(2, 0, "full size", set_on=5, ended_on=21),
    flower(3, 1, "pod dropped", set_on=5, ended_on=9),
    flower(4, 1, "flower dropped", ended_on=4),
    flower(5, 2, "damaged", ended_on=3),
    flower(6, 2, "lost to view"),
    flower(7, LAST - 2),
    flower(8, LAST - 5, set_on=LAST),
    flower(9, 2),
)


def test_fates_are_told_apart_and_undecided_flowers_are_no_failures() -> None:
    (plant,) = answer(*FATES).table.to_dict("records")
    told = {name: plant[name] for name in plant if name not in ("crop", "season", "season_name", "plant")}
    assert told == {
        "trusses": 1, "counted_trusses": 0, "opened": 9, "set": 4, "set_decided": 5, "flowers_dropped": 1,
        "pods_dropped": 1, "dropped": 2, "full_size": 2, "picked": 1, "full_decided": 4, "damaged": 1,
        # the ninth has no end, weeks before the last day of the books
        "lost_to_view": 2, "still_open": 1, "growing": 1, "set_share": 4 / 5, "full_share": 2 / 4,
    }  # fmt: skip


def test_losses_stand_by_opening_day_and_by_day_of_loss() -> None:
    found = answer(*FATES)
    opened = found.by_opening_day.set_index("on_from")
    assert opened.loc[pd.Timestamp(on(1)), ["opened", "set", "set_decided", "full_decided"]].tolist() == [2, 1, 2, 2]
    losses = found.by_loss_day[["on_to", "lost", "flowers", "pods", "at_risk"]].to_numpy().tolist()
    # on the fourth day four of the first five are there still and the sixth nobody sees; the ninth day has pods 1 to 3
    assert losses == [[pd.Timestamp(on(4)), 1, 1, 0, 4], [pd.Timestamp(on(9)), 1, 0, 1, 3]]


def test_rows_of_one_flower_are_taken_together_and_the_later_wins() -> None:
    found = answer(
        flower(1, 0), flower(1, None, "picked", set_on=5, ended_on=20),
        flower(2, 1), flower(2, None, "flower dropped", ended_on=4), flower(2, None, "picked", ended_on=20),
    )  # fmt: skip
    assert found.table[["opened", "set", "picked", "flowers_dropped"]].iloc[0].tolist() == [2, 2, 2, 0]
    cautions = " ".join(found.cautions)
    assert "2 flowers written in several rows, taken together" in cautions
    assert "1 flower whose rows contradict one another; the later one was taken" in cautions


def test_the_latest_count_and_the_spans_between_counts() -> None:
    found = answer(
        count(0, opened=4, set=0, dropped=0, full_size=0), count(6, opened=9, set=2, full_size=0),
        count(12, opened=11, set=3, dropped=8, full_size=2),
    )  # fmt: skip
    (truss,) = found.trusses.to_dict("records")
    assert (truss["basis"], truss["opened"], truss["set"], truss["dropped"]) == ("counts", 11, 3, 8)
    assert pd.isna(truss["flowers_dropped"])
    assert (truss["set_share"], truss["full_share"]) == (3 / 11, 2 / 10)
    spans = found.by_opening_day[["basis", "on_from", "on_to", "opened"]].to_numpy().tolist()
    assert [(begins, ends, n) for _, begins, ends, n in spans[1:]] == [
        (pd.Timestamp(on(1)), pd.Timestamp(on(6)), 5), (pd.Timestamp(on(7)), pd.Timestamp(on(12)), 2)
    ]  # fmt: skip
    assert pd.isna(spans[0][1])
    # drops were not counted on the sixth day, so that they fell at any time since the first
    (loss,) = found.by_loss_day.to_dict("records")
    assert (loss["on_from"], loss["on_to"], loss["lost"]) == (pd.Timestamp(on(1)), pd.Timestamp(on(12)), 8)


def test_a_share_needs_drops_counted_when_pods_were() -> None:
    found = answer(count(0, opened=4, set=0, dropped=1), count(6, opened=9, set=2))
    assert pd.isna(found.table["set_share"].iloc[0])
    assert "1 of them without a share: drops were not counted when pods last were" in " ".join(found.cautions)
    assert found.shares["note"].iloc[0] == "no flower of it is decided"


def test_a_truss_both_followed_and_counted_goes_by_its_flowers() -> None:
    found = answer(*FATES, count(9, opened=12, set=5), count(9, truss="t2", opened=5, set=1, dropped=4))
    both, only = found.trusses.to_dict("records")
    assert (both["basis"], both["opened"], both["opened_by_count"], both["set_by_count"]) == ("flowers", 9, 12, 5)
    assert (only["basis"], only["opened"]) == ("counts", 5)
    assert found.table["opened"].iloc[0] == 14
    said = "1 truss followed flower by flower and counted too; the flowers were taken, and the counts have 3 opened "
    assert any(f"{said}flowers more on some, 0 fewer on others" in text for text in found.cautions)
    assert found.by_opening_day.query("basis == 'counts'")["opened"].sum() == 5


def test_a_number_that_falls_is_said() -> None:
    found = answer(count(0, opened=9, set=4, dropped=2), count(5, opened=8, set=3, dropped=5))
    assert found.table["opened"].iloc[0] == 8
    assert "2 numbers lower than an earlier one of the same truss; the later one was taken" in " ".join(found.cautions)


def of_plants(*counts: tuple[int, int]) -> list[dict[str, Any]]:
    """A truss a plant with so many flowers that set of so many."""
    return [
        flower(place + 1, place, *(("picked",) if place < k else ("flower dropped",)), ended_on=30,
               plant=f"A{number}/2023", label=f"A{number}")
        for number, (k, n) in enumerate(counts) for place in range(n)
    ]  # fmt: skip


def test_the_interval_is_of_plants_each_counting_alike() -> None:
    shares = [0.5, 0.25, 0.4]
    found = answer(*of_plants((2, 4), (1, 4), (4, 10)), level=0.9).shares.iloc[0]
    half = stats.t.ppf(0.95, 2) * np.std(shares, ddof=1) / math.sqrt(3)
    assert (found["n_plants"], found["decided"]) == (3, 18)
    assert [found[name] for name in ("share", "low", "high")] == pytest.approx(
        [np.mean(shares), np.mean(shares) - half, np.mean(shares) + half]
    )
    assert pd.isna(found["beta_binomial"])


def test_one_plant_has_no_interval_and_equal_plants_show_no_spread() -> None:
    one = answer(*of_plants((2, 4)))
    assert pd.isna(one.shares["low"].iloc[0])
    assert "no interval: one plant alone does not show how plants differ" in one.summary()
    equal = answer(*of_plants((0, 4), (0, 9)))
    assert equal.shares["share"].iloc[0] == 0
    assert "no interval: all plants have the same share" in equal.summary()


def test_a_beta_binomial_above_ten_plants_only() -> None:
    counts = [(2, 9), (5, 9), (1, 9), (8, 9), (3, 9), (4, 9), (0, 9), (6, 9), (2, 9), (7, 9), (3, 9)]
    found = answer(*of_plants(*counts)).shares.iloc[0]
    assert found["beta_binomial_low"] < found["beta_binomial"] < found["beta_binomial_high"]
    assert found["phi"] > 0.05
    assert found["beta_binomial"] == pytest.approx(found["share"], abs=0.02)
    assert pd.isna(answer(*of_plants(*counts[:10])).shares["beta_binomial"].iloc[0])


def test_a_beta_binomial_of_plants_alike_is_binomial() -> None:
    fit, low, high = beta_binomial_interval([4, 5, 4, 5, 4, 5] * 2, [10] * 12, 0.95)
    assert fit.phi == pytest.approx(0, abs=1e-5)
    # the likelihood interval of 54 of 120
    assert (low, high) == pytest.approx((0.3629, 0.5393), abs=0.002)


def test_where_no_plant_set_the_interval_ends_at_nothing() -> None:
    _, low, high = beta_binomial_interval([0] * 11, [5] * 11, 0.95)
    assert low < 1e-5
    assert 0.02 < high < 0.2


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 12)).map(sorted), min_size=1, max_size=8))
def test_mean_share_law(counts: list[list[int]]) -> None:
    found = mean_share([k for k, _ in counts], [n for _, n in counts], 0.95)
    assert found is not None
    assert found.mean == pytest.approx(np.mean([k / n for k, n in counts]))
    assert (found.low is None) == (found.why is not None)
    if found.low is not None and found.high is not None:
        assert 0 <= found.low <= found.mean <= found.high <= 1


@given(st.lists(st.tuples(st.floats(0, 1), st.integers(1, 30)), min_size=1, max_size=12))
def test_falling_shares_never_rise_and_keep_the_mean(given: list[tuple[float, int]]) -> None:
    values, weights = [value for value, _ in given], [weight for _, weight in given]
    fitted = falling(values, weights)
    assert all(later <= sooner + 1e-9 for sooner, later in pairwise(fitted))
    assert np.average(fitted, weights=weights) == pytest.approx(np.average(values, weights=weights))


one_fate = st.tuples(st.sampled_from([*ENDS, None]), st.integers(0, LAST), st.booleans())


@given(st.lists(one_fate, min_size=1, max_size=30))
def test_every_flower_has_one_fate(fates: list[tuple[str | None, int, bool]]) -> None:
    rows = [
        flower(place + 1, day, end, **({"set_on": day + 3} if was_set and end != "flower dropped" else {}))
        for place, (end, day, was_set) in enumerate(fates)
    ]
    plant = answer(*rows).table.iloc[0]
    fate = ["dropped", "full_size", "damaged", "lost_to_view", "still_open", "growing"]
    assert plant[fate].sum() == plant["opened"] == len(fates)
    assert plant["full_decided"] == plant["dropped"] + plant["full_size"]
    assert plant["set"] + plant["flowers_dropped"] == plant["set_decided"]


def test_logistic_refuses_what_are_no_counts() -> None:
    with pytest.raises(AnalysisError, match="from 0 to their totals"):
        logistic([3, 5], [4, 4], [[1], [1]])
    with pytest.raises(AnalysisError, match="as many rows"):
        logistic([3], [4, 4], [[1], [1]])


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    with source_of(
        sown("A1"), sown("A2"),
        FlowerFate("A1", "t1", 1, opened_on="2023-07-01", set_on="2023-07-05", ended_on="2023-07-20", end="picked"),
        FlowerFate("A1", "t1", 2, opened_on="2023-07-02", ended_on="2023-07-05", end="flower dropped"),
        TrussCount("A2", "t1", "2023-07-20", opened=8, set=3, dropped=5, full_size=1),
        TrussCount("Z9", "t1", "2023-07-20", opened=8, set=3),
    ) as built:  # fmt: skip
        yield built


def test_asked_of_records(source: BuiltSource) -> None:
    found = pod_set(source)
    assert found.table["plant"].tolist() == ["A1/2023", "A2/2023"]
    assert found.table["set_share"].tolist() == [0.5, 3 / 8]
    assert found.table["season_name"].tolist() == ["2023", "2023"]
    assert found.n == 2
    assert "1 row left out: no plant is known that bore the label then." in found.cautions


def test_choices_change_the_answer(source: BuiltSource) -> None:
    assert pod_set(source, labels=["A2"]).table["plant"].tolist() == ["A2/2023"]
    assert pod_set(source, labels="A1/2023").table["plant"].tolist() == ["A1/2023"]
    assert pod_set(source, season=2024).table.empty
    assert pod_set(source, crop="Capsicum annuum").table.empty
    assert pod_set(source, crop=BEAN, season=2023).n == 2
    unknown = pod_set(source, labels=["nobody"])
    assert unknown.cautions == ("No flowering is on record under the label nobody.",)
    assert unknown.findings == ("No flowering is on record for what was asked.",)


def test_what_is_of_another_kind_is_refused(source: BuiltSource) -> None:
    with pytest.raises(AnalysisError, match="between 0 and 1"):
        pod_set(source, level=95)
    with pytest.raises(ArgumentError, match="season is 'x'"):
        pod_set(source, season="x")  # type: ignore[arg-type]
