"""What stock and seasons can be compared in: earliness with plants that never cropped, length, ground, work, several
measures at once, equivalence, and what little shared pickings do."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import pandas as pd
import pytest

from perennia.analysis.decisions.comparing.later_seasons import compare_seasons
from perennia.analysis.decisions.comparing.stock import StockComparison, compare_stock, compare_units
from perennia.analysis.exact import equivalent_two_sample, exact_two_sample
from perennia.analysis.measures import number
from perennia.errors import AnalysisError
from tests.analysis.seasons_frame import FrameSource, arms, frame, overwintered, row

INF = float("inf")


def asked(rows: Sequence[dict[str, Any]], **options: Any) -> StockComparison:
    return compare_stock(FrameSource(rows), **options)


def day(number: int) -> datetime:
    """A day of July 2022."""
    return datetime(2022, 7, number)


def picked(rows: Sequence[dict[str, Any]], days: Sequence[int | None]) -> list[dict[str, Any]]:
    """The rows with these first pickings, a crop of nothing without one."""
    return [
        {**entry, "first_pick": None if first is None else day(first), "total_g": 0.0 if first is None else 300.0}
        for entry, first in zip(rows, days, strict=True)
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [(8 - 2e-15, "8"), (0.1 + 0.2 - 0.3, "0"), (-1e-12, "0"), (8.25, "8.25"), (7.999, "8.00"), (12.34, "12.3")],
)
def test_a_sum_of_shares_that_misses_a_whole_number_by_its_last_bits_is_whole(value: float, text: str) -> None:
    assert number(value) == text


def test_a_plant_that_never_cropped_counts_as_later_than_any_date() -> None:
    rows = picked(arms([0.0] * 4, [0.0] * 4), [3, 4, 5, 6, 9, 12, None, None])
    result = asked(rows, measure="first_pick")
    found, test = result.table.iloc[0], exact_two_sample([([184, 185, 186, 187], [190, 193, INF, INF])])
    assert (found["p"], found["shift_high"]) == (pytest.approx(test.p), test.high)
    assert found["p"] == pytest.approx(2 / 70)
    assert pd.isna(found["shift_low"])
    assert (found["never_cropped"], found["n_arm"], found["n_against"], found["tested_against"]) == (2, 4, 2, 4)
    assert found["raw_gap"] == pytest.approx(4.5 - 10.5)
    assert "fresh 11 July (mean, n = 2, and 2 that never cropped)" in result.findings[0]
    assert "unbounded below" in result.findings[0]
    assert any("2 units grew and never cropped" in caution for caution in result.cautions)


def test_an_arm_that_never_cropped_has_no_mean_but_is_tested() -> None:
    result = asked(picked(arms([0.0] * 4, [0.0] * 4), [3, 4, 5, 6, *[None] * 4]), measure="first_pick")
    found = result.table.iloc[0]
    assert pd.isna(found["mean_against"])
    assert found["p"] == pytest.approx(2 / 70)
    assert "fresh none with a date, and 4 that never cropped" in result.findings[0]
    assert "shift earlier than can be said" in result.findings[0]


def test_a_plant_without_a_known_crop_or_of_a_running_season_is_missing_instead() -> None:
    rows = picked(arms([0.0] * 3, [0.0] * 3), [3, 4, 5, 9, 10, 11])
    rows.append(row("F8", first_pick=None, total_g=None))
    rows.append(row("F9", first_pick=None, total_g=0.0, finished=False))
    found = asked(rows, measure="first_pick").table.iloc[0]
    assert (found["never_cropped"], found["missing"]) == (0, 2)


def test_means_are_not_taken_of_plants_that_never_cropped() -> None:
    result = asked(picked(arms([0.0] * 3, [0.0] * 3), [3, 4, 5, 9, 10, None]), measure="first_pick", statistic="values")
    assert pd.isna(result.table.iloc[0]["p"])
    assert "ask for statistic 'ranks'" in result.findings[0]


def test_a_season_without_a_crop_is_later_in_pairs_too() -> None:
    firsts, laters = [5, 6, 7, 8, 9, 10], [11, 13, 16, 18, None, None]
    rows = picked([row(f"P{n}", 2021) for n in range(6)], firsts)
    rows = [{**entry, "first_pick": entry["first_pick"].replace(year=2021)} for entry in rows]
    rows += picked([overwintered(f"P{n}", 2022) for n in range(6)], laters)
    result = compare_seasons(FrameSource(rows), measure="first_pick")
    found = result.table.iloc[0]
    assert (found["never_cropped"], found["n_pairs"]) == (2, 6)
    assert found["p"] == pytest.approx(2 / 64)
    assert found["raw_gap"] == pytest.approx((6 + 7 + 9 + 10) / 4)
    assert pd.isna(found["shift_high"])


def test_a_plant_that_never_cropped_and_did_not_come_back_breaks_no_mean() -> None:
    rows = picked([row(f"P{n}", 2021) for n in range(3)], [5, 6, None])
    rows += picked([overwintered(f"P{n}", 2022) for n in range(2)], [3, 4])
    result = compare_seasons(FrameSource(rows), measure="first_pick")
    assert any("2 of 3 plants" in caution for caution in result.cautions)


def test_a_bed_that_nobody_wrote_down_is_not_told_as_a_change() -> None:
    rows = [row(f"P{n}", 2021, total_g=100.0) for n in range(3)]
    rows += [overwintered(f"P{n}", 2022, total_g=200.0, bed=None, cover=None) for n in range(3)]
    finding = compare_seasons(FrameSource(rows)).findings[0]
    assert "may as well come from another place, the bed not being recorded in both seasons" in finding
    assert "cover" not in finding


def test_what_several_measures_share_is_said_and_counted_once() -> None:
    rows = [{**entry, "count": int(entry["total_g"] / 10)} for entry in arms([900.0, 1000.0], [500.0, 600.0])]
    lost = overwintered("O9", grew=False, bed=None, cover=None, site=None)
    result = asked([*rows, row("Z1", stock=None), {**lost, "count": None}], measure=["total_g", "count"])
    assert result.n == 4
    assert sum("never grew" in caution for caution in result.cautions) == 1
    assert any("1 kept root that never grew" in caution for caution in result.cautions)
    assert len(result.cautions) == len(set(result.cautions))


def test_the_length_of_a_season_is_in_days_both_ends_counted_and_0_without_a_crop() -> None:
    rows = picked(arms([0.0] * 2, [0.0] * 2), [1, 2, 3, None])
    rows = [{**entry, "last_pick": entry["first_pick"] and day(20)} for entry in rows]
    found = asked(rows, measure="season_days").table.iloc[0]
    assert (found["mean_arm"], found["mean_against"]) == (19.5, 9.0)


def test_quotients_are_sums_over_sums() -> None:
    given = {"total_g": 900.0, "count": 30, "minutes": 45.0, "cost": 3.0, "space_m2": 0.5, "occupied_days": 70,
             "works": 12, "timed": 10, "costed": 2}  # fmt: skip
    both = {"unit": "O1", "sharing": 2, "stock": "overwintered", "kept_root": True}
    second = {**given, "count": 60, "minutes": 15.0}
    rows = [row("O1", **given, **both), row("O2", **second, **both), row("F1", **given)]
    means = {name: asked(rows, measure=name).table.iloc[0] for name in
             ("mean_unit_g", "g_per_hour", "g_per_cost", "g_per_m2_week")}  # fmt: skip
    assert means["mean_unit_g"]["mean_arm"] == pytest.approx(1800 / 90)
    assert means["g_per_hour"]["mean_arm"] == pytest.approx(1800 / 1.0)
    assert means["g_per_hour"]["mean_against"] == pytest.approx(900 / 0.75)
    assert means["g_per_cost"]["mean_arm"] == pytest.approx(300)
    assert means["g_per_m2_week"]["mean_against"] == pytest.approx(900 / (0.5 * 10))
    said = " ".join(asked(rows, measure="g_per_hour").cautions)
    assert "a time is written down in 20 of 24 entries of work on overwintered units and 10 of 12 entries" in said


def test_work_that_nobody_wrote_down_is_missing() -> None:
    rows = [*arms([900.0], [500.0]), row("F9", total_g=400.0, minutes=30.0, works=2, timed=2, costed=0)]
    result = asked(rows, measure="g_per_hour")
    assert result.table.iloc[0]["missing"] == 2
    for entry in rows[:2]:
        entry |= {"minutes": 5.0, "works": 20, "timed": 15, "costed": 0}
    few = asked(rows, measure="g_per_hour")
    assert few.table.iloc[0]["missing"] == 2
    assert any("under 80 % of its work has a time" in caution for caution in few.cautions)
    assert any("2 units left out, no time is written down" in caution for caution in result.cautions)


def test_rows_without_efforts_are_refused_in_words() -> None:
    with pytest.raises(AnalysisError, match="join season_efforts"):
        compare_units(frame(arms([900.0], [500.0])), measure="g_per_hour")


def test_several_measures_have_p_after_holm_beside_the_raw() -> None:
    rows = arms([900.0, 1200, 1500, 800], [500.0, 650, 400, 1000])
    rows = [{**entry, "count": int(entry["total_g"] / 10)} for entry in rows]
    rows = picked(rows, [3, 4, 5, 6, 9, 10, 11, 12])
    rows = [{**entry, "total_g": 100.0 * place} for place, entry in enumerate([*rows[4:], *rows[:4]])]
    result = asked(rows, measure=["total_g", "count", "first_pick"])
    first = result.table[result.table["basis"] == "per survivor"].set_index("measure")
    assert list(first["p"]) == pytest.approx([2 / 70, 8 / 70, 2 / 70])
    assert list(first["p_holm"]) == pytest.approx([6 / 70, 8 / 70, 6 / 70])
    assert "(0.0857 among the measures asked, after Holm)" in result.findings[0]
    assert "Holm 1979" in result.method
    alone = asked(rows, measure="total_g")
    assert list(alone.table["p_holm"]) == list(alone.table["p"])
    assert "Holm" not in alone.findings[0] + alone.method


@pytest.mark.parametrize("measure", [[], ["total_g", "taste"], 7])
def test_measures_without_sense_are_refused(measure: Any) -> None:
    with pytest.raises(AnalysisError, match="total_g"):
        asked(arms([900.0], [500.0]), measure=measure)


def test_equivalence_is_two_one_sided_tests_and_agrees_with_the_interval_of_90_percent() -> None:
    old, new = [500.0, 520, 540, 560, 580], [505.0, 515, 545, 555, 575]
    within = exact_two_sample([(old, new)], level=0.90)
    assert within.low is not None
    assert within.high is not None
    for margin in (20.0, 40.0, 60.0, 100.0):
        found = equivalent_two_sample([(old, new)], margin)
        assert (found.p <= 0.05) == (within.low > -margin and within.high < margin)
        assert found.smallest_margin == max(-within.low, within.high)
    result = asked(arms(old, new), measure="total_g", margin=100.0)
    assert result.table.iloc[0]["p_equivalence"] <= 0.05
    assert "they differ by less than 100 g a plant" in result.findings[0]
    assert "no margin under" in result.findings[0]
    few = asked(arms([500.0, 510], [505.0, 507]), measure="total_g", margin=100.0)
    assert pd.isna(few.table.iloc[0]["smallest_margin"])
    assert "no margin can be shown with so few" in few.findings[0]


def test_a_margin_needs_one_measure() -> None:
    for measure in (None, ["total_g", "count"]):
        with pytest.raises(AnalysisError, match="unit of one measure"):
            asked(arms([900.0], [500.0]), measure=measure, margin=10.0)


def test_a_little_of_a_shared_picking_links_plants_and_a_further_line_leaves_it_out() -> None:
    rows = arms([900.0, 1000.0], [500.0, 600.0])
    for place, entry in enumerate(rows[2:]):
        entry |= {"unit": "F0", "sharing": 2, "shared_g": (20.0, 24.0)[place]}
    result = asked(rows)
    table = result.table.set_index("basis")
    line = "per survivor, small shares left out"
    assert list(table.index) == ["per survivor", "per root kept", line]
    assert (table.loc["per survivor", "n_against"], table.loc[line, "n_against"]) == (1, 2)
    assert table.loc[line, "mean_against"] == pytest.approx((480 + 576) / 2)
    assert any("under 5% of a plant's crop" in caution for caution in result.cautions)
    assert result.n == 3


def test_a_shared_picking_of_some_weight_stays() -> None:
    rows = arms([900.0, 1000.0], [500.0, 600.0])
    for entry in rows[2:]:
        entry |= {"unit": "F0", "sharing": 2, "shared_g": 100.0}
    assert list(asked(rows).table["basis"]) == ["per survivor", "per root kept"]


@pytest.mark.parametrize("left", [{"left_for_seed": 5}, {"left_for_seed": None, "left_uncounted": 1}])
def test_seed_left_on_one_arm_more_than_on_the_other_is_said(left: dict[str, int | None]) -> None:
    rows = arms([900.0, 1000.0], [500.0, 600.0])
    rows[0] |= left
    said = " ".join(asked(rows).cautions)
    assert "1 of 2 overwintered units and 0 of 2 fresh units had pods or fruit left for seed" in said
    assert "the arms were not treated alike in this" in said


def test_what_is_left_out_of_small_shares_is_taken_off_the_yield_by_area_too() -> None:
    rows = arms([900.0, 1000.0], [500.0, 600.0])
    for place, entry in enumerate(rows):
        entry |= {"g_per_m2": entry["total_g"] * 2, "space_m2": 0.5}
        if place > 1:
            entry |= {"unit": "F0", "sharing": 2, "shared_g": 20.0}
    table = asked(rows, measure="g_per_m2").table.set_index("basis")
    assert table.loc["per survivor, small shares left out", "mean_against"] == pytest.approx((960 + 1160) / 2)


def test_seven_in_a_hundred_of_a_crop_are_no_small_share() -> None:
    rows = arms([900.0, 1000.0], [500.0, 600.0])
    for entry in rows[2:]:
        entry |= {"unit": "F0", "sharing": 2, "shared_g": 0.07 * entry["total_g"]}
    assert "per survivor, small shares left out" not in set(asked(rows).table["basis"])
