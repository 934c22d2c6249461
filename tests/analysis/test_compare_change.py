"""The change of the same roots against that of fresh stock: what is worked out, what is withheld, what is said."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import pandas as pd
import pytest
from scipy import stats

from perennia.analysis import permutation
from perennia.analysis.contrasts import Part, contrast
from perennia.analysis.decisions.comparing.change import ChangeComparison, compare_change
from perennia.errors import AnalysisError
from tests.analysis.seasons_frame import FrameSource, overwintered, row

ROOTS = [(500.0, 900.0), (600.0, 950.0), (450.0, 800.0), (700.0, 1000.0), (550.0, 990.0)]
FRESH_FIRST, FRESH_LATER = [480.0, 650.0, 520.0, 570.0], [500.0, 610.0, 480.0, 590.0]


def seasons(
    roots: Sequence[tuple[float, float]] = ROOTS,
    first: Sequence[float] = FRESH_FIRST,
    later: Sequence[float] = FRESH_LATER,
    **given: Any,
) -> list[dict[str, Any]]:
    """Roots begun in 2021 and kept, and fresh stock of 2021 and of 2022, all in one bed."""
    rows = [row(f"P{n}", 2021, total_g=before, **given) for n, (before, _) in enumerate(roots)]
    rows += [overwintered(f"P{n}", 2022, total_g=after, **given) for n, (_, after) in enumerate(roots)]
    rows += [row(f"A{n}", 2021, total_g=value) for n, value in enumerate(first)]
    return rows + [row(f"B{n}", 2022, total_g=value) for n, value in enumerate(later)]


def asked(rows: Sequence[dict[str, Any]], **options: Any) -> ChangeComparison:
    return compare_change(FrameSource(rows), **options)


def test_the_gap_is_the_roots_change_less_that_of_fresh_stock_after_welch() -> None:
    result = asked(seasons())
    found = result.table.iloc[0]
    changes = [after - before for before, after in ROOTS]
    gap = statistics.fmean(changes) - (statistics.fmean(FRESH_LATER) - statistics.fmean(FRESH_FIRST))
    sizes = [(statistics.variance(values) / len(values), len(values) - 1)
             for values in (changes, FRESH_FIRST, FRESH_LATER)]  # fmt: skip
    error = math.sqrt(sum(part for part, _ in sizes))
    freedom = error**4 / sum(part**2 / free for part, free in sizes)
    assert found["gap"] == pytest.approx(gap)
    assert found["gap_high"] - gap == pytest.approx(stats.t.ppf(0.975, freedom) * error)
    assert found["p"] == pytest.approx(2 * stats.t.sf(gap / error, freedom))
    firsts, laters = zip(*ROOTS, strict=True)
    ratio = (statistics.fmean(laters) / statistics.fmean(firsts)) / (
        statistics.fmean(FRESH_LATER) / statistics.fmean(FRESH_FIRST)
    )
    assert found["ratio"] == pytest.approx(ratio)
    assert (found["n_roots"], found["n_fresh_first"], found["n_fresh_later"]) == (5, 4, 4)
    assert "feel a year alike" in result.cautions[0]
    assert "late frost" in result.cautions[0]
    assert "differed by +5 g a plant from other fresh stock" in " ".join(result.cautions)


def test_welch_of_two_means_is_that_of_scipy() -> None:
    x, y = [3.1, 4.0, 2.2, 5.9], [1.0, 1.2, 0.7]
    parts = [Part(statistics.variance(side) / len(side), len(side) - 1) for side in (x, y)]
    found = contrast(statistics.fmean(x) - statistics.fmean(y), parts, 0.95)
    told = stats.ttest_ind(x, y, equal_var=False)
    assert found is not None
    assert (found.p, found.freedom) == (pytest.approx(told.pvalue), pytest.approx(told.df))
    assert (found.low, found.high) == pytest.approx(tuple(told.confidence_interval(0.95)))


def test_under_four_units_an_arm_and_season_there_is_neither_p_nor_interval() -> None:
    for rows in (seasons(ROOTS[:3]), seasons(first=FRESH_FIRST[:3]), seasons(later=FRESH_LATER[:3])):
        result = asked(rows)
        found = result.table.iloc[0]
        assert found["gap"] == found["gap"]
        assert all(pd.isna(found[name]) for name in ("p", "gap_low", "gap_high", "ratio", "p_ratio"))
        assert "no p and no interval" in result.findings[0]


def test_the_two_scales_may_disagree_and_it_is_said() -> None:
    # the roots lost 200 of 600 g, fresh stock 150 of 300 g: more in grams, less as a share
    roots = [(1000.0, 700.0), (200.0, 110.0), (900.0, 600.0), (300.0, 190.0)]
    result = asked(seasons(roots, [50.0, 550, 100, 500], [20.0, 280, 60, 240]))
    found = result.table.iloc[0]
    assert found["gap"] < 0 < found["ratio"] - 1
    assert "disagree about the direction" in result.findings[0]


def test_fresh_stock_that_changed_its_place_is_left_out_or_confounded() -> None:
    rows = seasons()
    for entry in rows:
        if entry["label"] == "B0":
            entry["bed"] = "B9"
    assert asked(rows).table.iloc[0]["elsewhere"] == 1
    for entry in rows:
        if entry["label"].startswith("B"):
            entry["cover"] = "tunnel"
    result = asked(rows)
    assert pd.isna(result.table.iloc[0]["gap"])
    assert "confounded with its place" in result.findings[0]


def test_roots_that_moved_are_left_out_and_roots_that_stood_elsewhere_are_told() -> None:
    rows = seasons(bed="B5")
    for entry in rows:
        if entry["label"] == "P0" and entry["season"] == 2022:
            entry["bed"] = "B6"
    result = asked(rows)
    assert result.table.iloc[0]["changed_place"] == 1
    assert "so a year may have treated the places differently" in " ".join(result.cautions)


def test_without_other_fresh_stock_in_the_first_season_nothing_is_taken_off() -> None:
    result = asked(seasons(first=[]))
    assert "no other fresh stock in the roots' first season" in result.findings[0]
    assert "No root has both" in asked([row("A1", 2021, total_g=1.0)]).findings[0]


def test_places_are_weighted_alike_in_both_seasons() -> None:
    rows = seasons(first=[100.0, 100.0, 100.0, 100.0], later=[150.0, 150.0, 150.0, 150.0])
    rows += [row("C1", 2021, total_g=1000.0, bed="B2"), row("C2", 2022, total_g=1050.0, bed="B2")]
    found = asked(rows).table.iloc[0]
    assert found["mean_fresh_later"] - found["mean_fresh_first"] == pytest.approx(50)
    assert found["mean_fresh_first"] == pytest.approx((100 * 2 + 1000 * 0.5) / 2.5)


def test_days_have_no_ratio_and_plants_that_never_cropped_are_left_out() -> None:
    rows = seasons()
    for place, entry in enumerate(rows):
        entry["first_pick"] = datetime(entry["season"], 7, 1 + 7 * place % 20)
    rows[-1] |= {"first_pick": None, "total_g": 0.0}
    rows.append(row("B9", 2022, total_g=5.0, first_pick=datetime(2022, 7, 3)))
    found = asked(rows, measure="first_pick").table.iloc[0]
    assert (found["missing"], found["n_fresh_later"]) == (1, 4)
    assert pd.isna(found["ratio"])
    assert found["p"] > 0


def test_questions_without_sense_are_refused() -> None:
    with pytest.raises(AnalysisError, match="unknown measure"):
        asked(seasons(), measure="taste")
    with pytest.raises(AnalysisError, match="between 0 and 1"):
        asked(seasons(), level=95)


def test_no_permutation_is_counted_for_a_change_that_is_held_by_means() -> None:
    """The pairs were put to their own test too, and its outcome thrown away: over a minute for a thousand plants."""
    permutation.paired_distribution.cache_clear()
    assert asked(seasons()).n == len(ROOTS)
    assert permutation.paired_distribution.cache_info().misses == 0


@pytest.mark.parametrize(("factor", "elsewhere"), [("site", "Away"), ("cover", "tunnel"), ("cultivar", "White")])
def test_roots_that_share_nothing_with_fresh_stock_that_a_year_acts_through_have_no_p(
    factor: str, elsewhere: str
) -> None:
    result = asked(seasons(**{factor: elsewhere}))
    found = result.table.iloc[0]
    assert found["gap"] == pytest.approx(asked(seasons()).table.iloc[0]["gap"])
    assert found[["gap_low", "p", "ratio_low", "p_ratio"]].isna().all()
    assert f"share no {factor}" in result.findings[0]


def test_seasons_that_still_run_are_left_out_on_both_sides() -> None:
    rows = seasons()
    rows[len(ROOTS)] |= {"finished": False}
    rows[-1] |= {"finished": False}
    found = asked(rows).table.iloc[0]
    assert (found["n_roots"], found["n_fresh_later"]) == (4, 3)
