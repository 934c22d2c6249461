"""Several kinds of stock, and several seasons of the same plants, all at once."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from perennia.analysis.decisions.comparing.later_seasons import compare_seasons
from perennia.analysis.decisions.comparing.stock import compare_stock
from tests.analysis.seasons_frame import FrameSource, arms, overwintered, row

OLD, NEW, SPLIT = [900.0, 1200.0, 1500.0], [500.0, 650.0, 400.0], [700.0, 300.0, 620.0]


def three_kinds(**given: Any) -> list[dict[str, Any]]:
    rows = arms(OLD, NEW)
    return rows + [row(f"D{n}", stock="division", total_g=value, **given) for n, value in enumerate(SPLIT)]


def test_three_kinds_of_stock_in_one_bed_are_held_against_each_other_at_once() -> None:
    result = compare_stock(FrameSource(three_kinds()))
    found = result.overall.iloc[0]
    assert found["statistic"] == pytest.approx(stats.kruskal(SPLIT, NEW, OLD).statistic)
    assert (found["groups"], found["n"]) == ("division (3), fresh (3), overwintered (3)", 9)
    assert found["order"].endswith("< overwintered")
    assert "all at once" in result.findings[-1]


def test_two_kinds_or_kinds_that_share_no_place_are_not() -> None:
    assert compare_stock(FrameSource(arms(OLD, NEW))).overall.empty
    assert compare_stock(FrameSource(three_kinds(bed="B9"))).overall.empty
    assert compare_stock(FrameSource(three_kinds()), pooled=True).overall.empty


def lives(crops: dict[str, list[float | None]], **given: Any) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for label, values in crops.items():
        for place, value in enumerate(values):
            make = overwintered if place else row
            plant = {"plant": f"{label}/2020", "plant_season": place + 1, "total_g": value}
            rows.append(make(label, 2020 + place, **plant, **given))
    return rows


def test_the_first_seasons_of_the_same_plants_are_held_against_each_other_at_once() -> None:
    crops: dict[str, list[float | None]] = {"A": [5.0, 9, 7, 3], "B": [4.0, 8, 9], "C": [6.0, 7, 8], "D": [6.0, 9]}
    result = compare_seasons(FrameSource(lives(crops)))
    found = result.overall.iloc[0]
    told = stats.friedmanchisquare([5, 4, 6], [9, 8, 7], [7, 9, 8])
    assert found["statistic"] == pytest.approx(told.statistic)
    assert found["groups"] == "plant season 1 (3), plant season 2 (3), plant season 3 (3)"
    assert found["p"] >= found["smallest_p"] == pytest.approx(6 / 216)


def test_plants_that_moved_and_seasons_without_a_value_are_not_among_them() -> None:
    rows = lives({"A": [5.0, 9, 7], "B": [4.0, None, 9], "C": [6.0, 7, 8]})
    assert compare_seasons(FrameSource(rows)).overall.iloc[0]["n"] == 6
    rows[-1]["bed"] = "B9"
    assert compare_seasons(FrameSource(rows)).overall.empty


def test_seasons_that_still_run_are_not_held_by_what_they_will_give() -> None:
    rows = three_kinds()
    for entry in rows:
        entry |= {"g_per_m2": entry["total_g"], "finished": entry["label"] not in ("O0", "O1", "O2")}
    assert compare_stock(FrameSource(rows), measure="g_per_m2").overall.empty


def test_plants_picked_out_by_their_first_season_are_not_held_against_it_at_once() -> None:
    kept: dict[str, list[float | None]] = {"A": [95.0, 50, 52], "B": [93.0, 61, 47], "C": [91.0, 44, 58]}
    left: dict[str, list[float | None]] = {name: [40.0 + place] for place, name in enumerate("DEFGHI")}
    assert len(compare_seasons(FrameSource(lives(kept))).overall) == 1
    result = compare_seasons(FrameSource(lives(kept | left)))
    assert result.overall.empty
    assert "picked out by one season fall back without any ageing" in result.findings[0]


def test_plants_picked_out_by_their_second_season_are_not_held_against_it_either() -> None:
    kept: dict[str, list[float | None]] = {"A": [52.0, 95, 50], "B": [47.0, 93, 61], "C": [58.0, 91, 44]}
    left: dict[str, list[float | None]] = {name: [50.0 + place, 40 + place] for place, name in enumerate("DEFGHI")}
    assert len(compare_seasons(FrameSource(lives(kept))).overall) == 1
    assert compare_seasons(FrameSource(lives(kept | left))).overall.empty
