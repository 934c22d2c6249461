"""The units that a comparison gives one by one are those that its rows rest on."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest

from perennia.analysis import compare_change, compare_seasons, compare_stock
from perennia.analysis.decisions.comparing.by_unit import CHANGE_UNITS, PAIR_UNITS, STOCK_UNITS
from tests.analysis.built_source import BuiltSource, source_of
from tests.report.gardens import records


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    with source_of(*records()) as made:
        yield made


def of_row(units: pd.DataFrame, row: pd.Series, names: tuple[str, ...]) -> pd.DataFrame:
    """The units of one answer."""
    for name in names:
        units = units[units[name] == row[name]]
    return units


@pytest.mark.parametrize("pooled", [False, True])
@pytest.mark.parametrize("measure", ["total_g", "first_pick"])
def test_units_of_stock_are_those_of_the_row(source: BuiltSource, measure: str, pooled: bool) -> None:
    found = compare_stock(source, measure=measure, pooled=pooled)
    assert list(found.by_unit) == list(STOCK_UNITS)
    assert not found.table.empty
    for _, row in found.table.iterrows():
        own = of_row(found.by_unit, row, ("crop", "seasons", "basis", "measure"))
        for side in ("arm", "against"):
            mine = own[own["stock"] == row[side]]
            assert mine["value"].count() == row[f"n_{side}"]
            assert mine["tested"].sum() == row[f"tested_{side}"]
            if not pd.isna(row[f"mean_{side}"]):
                assert mine["value"].mean() == pytest.approx(row[f"mean_{side}"])
        assert own.loc[own["tested"], "stratum"].nunique() <= row["strata"] * (len(row["seasons"].split(", ")))
        assert own["running"].sum() == row["running"]


def test_pairs_are_those_of_the_row(source: BuiltSource) -> None:
    found = compare_seasons(source)
    assert list(found.by_unit) == list(PAIR_UNITS)
    assert not found.table.empty
    for _, row in found.table.iterrows():
        own = of_row(found.by_unit, row, ("crop", "plant_season", "basis", "measure"))
        assert len(own) == row["n_pairs"]
        assert own["changed"].notna().sum() == row["changed_place"]
        if len(own):
            assert own["first"].mean() == pytest.approx(row["mean_first"])
            assert own["later"].mean() == pytest.approx(row["mean_later"])
        if row["basis"] == "per survivor":
            assert not own["lost"].any()


def test_roots_and_fresh_stock_are_those_of_the_row(source: BuiltSource) -> None:
    found = compare_change(source)
    assert list(found.by_unit) == list(CHANGE_UNITS)
    assert found.table["gap"].notna().any()
    for _, row in found.table.iterrows():
        own = of_row(found.by_unit, row, ("crop", "plant_season", "first_season", "later_season", "measure"))
        roots, fresh = own[own["stock"] == "roots"], own[own["stock"] == "fresh"]
        assert len(roots) == row["n_roots"]
        assert (fresh["first"].count(), fresh["later"].count()) == (row["n_fresh_first"], row["n_fresh_later"])
        if not pd.isna(row["gap"]):
            assert roots["later"].mean() == pytest.approx(row["mean_roots_later"])
