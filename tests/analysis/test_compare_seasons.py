"""First season against later ones: pairs, changes of place, survivors."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.decisions.comparing.change import compare_change
from perennia.analysis.decisions.comparing.later_seasons import SeasonComparison, compare_seasons
from perennia.analysis.decisions.comparing.stock import compare_stock
from perennia.analysis.exact import exact_paired, ratio_paired
from perennia.errors import AnalysisError
from tests.analysis.seasons_frame import FrameSource, lost, overwintered, row

FIRST, SECOND = [500.0, 650.0, 400.0, 710.0, 300.0, 320.0], [900.0, 1200.0, 300.0, 700.0, 800.0, 333.0]
EFFECT = ["shift", "shift_low", "shift_high", "ratio", "ratio_low", "ratio_high", "level", "p", "smallest_p"]


def lives(first: Sequence[float], second: Sequence[float], start: int = 2021, **later: Any) -> list[dict[str, Any]]:
    """Plants with a first and a second season."""
    rows = [row(f"P{start}.{i}", start, total_g=value) for i, value in enumerate(first)]
    return rows + [overwintered(f"P{start}.{i}", start + 1, total_g=value, **later) for i, value in enumerate(second)]


def asked(rows: Sequence[dict[str, Any]], **options: Any) -> SeasonComparison:
    return compare_seasons(FrameSource(rows), **options)


def test_pairs_give_the_exact_paired_test() -> None:
    result = asked(lives(FIRST, SECOND))
    found = result.table.iloc[0]
    differences = [b - a for a, b in zip(FIRST, SECOND, strict=True)]
    test, ratio = exact_paired(differences), ratio_paired(SECOND, FIRST)
    assert [found[name] for name in EFFECT] == [
        test.estimate, test.low, test.high, ratio.estimate, ratio.low, ratio.high, test.level, test.p, test.smallest_p
    ]  # fmt: skip
    assert (found["n_pairs"], found["tested_pairs"], found["years"], result.n) == (6, 6, "2021 to 2022", 6)
    assert found["raw_gap"] == pytest.approx(sum(differences) / 6)
    assert "age and year are not told apart" in result.summary()


def test_one_pair_has_a_shift_and_is_said_to_bound_nothing() -> None:
    said = asked(lives([500.0], [450.0])).findings[0]
    assert "shift -50 g a plant (so few bound nothing), ratio 0.90; p 1 as if randomised" in said
    assert said.endswith("this layout cannot reach 5 % whatever the crop.")


def test_a_first_season_in_which_no_crop_is_due_is_told_first() -> None:
    rhubarb = [one | {"crop": "Rheum x hybridum"} for one in lives([0.0, 120.0, 90.0], [800.0, 900.0, 700.0])]
    result = asked(rhubarb + lives(FIRST, SECOND, start=2020))
    told = [caution for caution in result.cautions if "no crop is due" in caution]
    assert told == [result.cautions[0]]
    assert told[0].startswith("Rheum x hybridum: in its first season no crop is due, for it first crops")
    fresh = [row(f"new{year}", year, total_g=50.0, crop="Rheum x hybridum") for year in (2021, 2022)]
    change = compare_change(FrameSource([*rhubarb, *fresh]))
    assert change.cautions[0] == told[0]
    assert compare_stock(FrameSource([*rhubarb, *fresh]), crop="Rheum x hybridum").cautions[0] == told[0]


crops = st.integers(0, 900).map(float)


changes = st.sampled_from(["bed", "cover", "container", "moved"])


@given(st.lists(st.tuples(crops, crops), min_size=1, max_size=6), changes)
def test_plants_that_changed_place_never_give_a_p(pairs: list[tuple[float, float]], what: str) -> None:
    changed = {"moved": True} if what == "moved" else {what: "elsewhere"}
    result = asked(lives(*zip(*pairs, strict=True), **changed))  # type: ignore[arg-type]
    assert result.table[EFFECT].isna().all(axis=None)
    assert result.table["raw_gap"].notna().all()
    named = "moved within a season" if what == "moved" else what
    assert set(result.table["confounded_with"]) == {named}
    assert result.changes.to_dict("records") == [
        {"crop": "bean", "plant_season": 2, "what": named, "pairs": len(pairs)}
    ]
    assert f"change of {named} (pairs by what changed: {named} ({len(pairs)})): no p, no interval" in result.findings[0]


def test_only_the_pairs_that_kept_their_place_count() -> None:
    rows = lives(FIRST, SECOND)
    rows[-1]["bed"] = "B2"
    rows[-2]["bed"] = None
    result = asked(rows)
    found = result.table.iloc[0]
    assert (found["n_pairs"], found["tested_pairs"], found["changed_place"]) == (6, 4, 2)
    assert found["p"] == exact_paired([b - a for a, b in zip(FIRST[:4], SECOND[:4], strict=True)]).p
    assert found["raw_gap"] == pytest.approx((sum(SECOND) - sum(FIRST)) / 6)
    assert dict(zip(result.changes["what"], result.changes["pairs"], strict=True)) == {
        "bed": 1, "bed (not recorded)": 1, "nothing": 4,
    }  # fmt: skip
    assert result.table.iloc[1]["p"] == found["p"]
    with_a_loss = asked([*rows, row("L1", 2021, total_g=100.0), lost("L1", 2022)])
    assert with_a_loss.table.iloc[0]["p"] == found["p"]
    assert with_a_loss.table.iloc[1][EFFECT].isna().all()
    assert "the roots lost would weigh too much" in with_a_loss.findings[1]


def test_roots_lost_and_survivors_are_told() -> None:
    rows = [*lives(FIRST, SECOND), row("L1", 2021, total_g=100.0), lost("L1", 2022), row("D1", 2021, total_g=50.0)]
    result = asked(rows)
    survivor, kept = result.table.iloc[0], result.table.iloc[1]
    assert (survivor["n_first"], survivor["n_reached"], survivor["lost"]) == (8, 6, 1)
    assert (survivor["n_pairs"], kept["n_pairs"]) == (6, 7)
    assert pd.isna(survivor["p"])
    assert "plants picked out by one season fall back without any ageing" in result.findings[0]
    assert kept["p"] == exact_paired([*(b - a for a, b in zip(FIRST, SECOND, strict=True)), -100.0]).p
    assert any("only survivors, 6 of 8 plants; in their first season those had averaged 480 g a plant (n = 6), the "
               "others 75 g a plant (n = 2)" in caution for caution in result.cautions)  # fmt: skip
    assert any("1 plant lost" in caution for caution in result.cautions)


def test_the_best_kept_of_many_are_not_told_to_have_aged() -> None:
    """Best 10 of 40 kept by one season; nothing changes but chance."""
    random = np.random.default_rng(5)
    own = 800 + random.normal(0, 40, 40)
    firsts, laters = own + random.normal(0, 160, 40), own + random.normal(0, 160, 40)
    best = np.argsort(firsts)[-10:]
    rows = [row(f"P{i}", 2021, total_g=value) for i, value in enumerate(firsts)]
    rows += [overwintered(f"P{i}", 2022, total_g=laters[i]) for i in best]
    result = asked(rows)
    found = result.table.iloc[0]
    assert found["raw_gap"] < -100
    assert pd.isna(found["p"])
    assert pd.isna(found["shift_low"])
    assert "picked out by one season fall back without any ageing" in result.findings[0]


def test_a_plant_nobody_wrote_of_is_neither_lost_nor_a_survivor() -> None:
    rows = lives([100.0, 110.0, 120.0], [150.0, 160.0, 170.0])
    before = asked(rows).table.iloc[0]
    silent = [row("U", 2021, total_g=900.0), overwintered("U", 2022, grew=None, plant="U/2021")]
    after = asked([*rows, *silent])
    found = after.table.iloc[0]
    assert (found["silent"], found["lost"]) == (1, 0)
    for name in ("n_first", "n_reached", "shift", "p"):
        assert found[name] == before[name]
    assert any("1 plant left out, nothing is recorded of the later season" in text for text in after.cautions)


def test_a_root_thrown_out_before_it_grew_was_not_lost() -> None:
    rows = lives([100.0, 110.0, 120.0], [150.0, 160.0, 170.0])
    out = [row("T", 2021, total_g=90.0), lost("T", 2022, plant="T/2021", ended_how="removed")]
    assert asked([*rows, *out]).table["lost"].tolist()[0] == 0


def test_several_start_years_and_later_plant_seasons() -> None:
    third = [overwintered(f"P2021.{i}", 2023, total_g=10.0, plant_season=3, plant=f"P2021.{i}/2021") for i in range(2)]
    result = asked([*lives(FIRST, SECOND), *lives(FIRST, SECOND, start=2022), *third])
    assert list(result.table["plant_season"]) == [2, 2, 3, 3]
    assert result.table.iloc[0]["n_pairs"] == 12
    assert "age and year are only partly mixed" in result.summary()
    # those begun in 2022 have not come to their third season yet
    assert (result.table.iloc[2]["n_first"], result.table.iloc[2]["n_pairs"]) == (6, 2)


def test_plants_linked_in_either_season_are_one_pair() -> None:
    rows = lives([100.0, 200.0, 300.0], [400.0, 500.0, 600.0])
    for entry, unit in zip(rows, ("a", "a", None, None, "b", "b"), strict=True):
        entry |= {"unit": unit or entry["label"], "sharing": 2 if unit else 1}
    result = asked(rows)
    found = result.table.iloc[0]
    assert (found["n_pairs"], found["mean_first"], found["mean_later"]) == (1, 200.0, 500.0)
    assert "1 pair of several plants linked by shared pickings" in result.summary()


def test_a_later_season_still_running_is_not_held_against_a_whole_one() -> None:
    rows = lives(FIRST, SECOND, finished=False)
    for entry in rows:
        entry["first_pick"] = datetime.datetime(entry["season"], 7, 1 if entry["season"] == 2022 else 9)
    found = asked(rows).table.iloc[0]
    assert found[EFFECT].isna().all()
    assert (found["running"], found["n_pairs"], found[["mean_later", "raw_gap"]].isna().all()) == (6, 0, True)
    assert "still running, and a crop to date is not held against a whole one" in asked(rows).findings[0]
    with_a_loss = asked([*rows, row("L1", 2021, total_g=100.0), lost("L1", 2022)]).table
    assert with_a_loss[EFFECT].isna().all(axis=None)
    earlier = asked(rows, measure="first_pick")
    assert earlier.table.iloc[0]["shift"] == -8.0
    assert "first 9 July, later 1 July" in earlier.findings[0]


def test_a_later_season_has_begun_where_the_plants_own_site_has_it() -> None:
    north, south = lives(FIRST, SECOND, start=2022), [
        {**row(f"S{place}", 2023, total_g=100.0), "site": "South"} for place in range(2)
    ]  # fmt: skip
    ahead = [row("N", 2024, total_g=1.0)]
    found = asked([*north, *south, *ahead]).table.iloc[0]
    assert (found["n_first"], found["n_reached"]) == (6, 6)


def test_roots_lost_alone_make_no_mean_beside_a_running_season() -> None:
    rows = [*lives(FIRST, SECOND, finished=False), row("L", 2021, total_g=300.0), lost("L", 2022)]
    kept = asked(rows).table.iloc[1]
    assert (kept["basis"], kept[["mean_first", "mean_later", "raw_gap", "p"]].isna().all()) == ("per root kept", True)


def test_a_leap_year_makes_no_difference_between_the_seasons() -> None:
    rows = lives(FIRST, SECOND, start=2023)
    for entry in rows:
        entry["first_pick"] = datetime.datetime(entry["season"], 8, 1 + int(entry["label"][-1]))
    found = asked(rows, measure="first_pick")
    assert found.table.iloc[0][["shift", "shift_low", "shift_high", "p"]].to_list() == [0.0, 0.0, 0.0, 1.0]
    assert "first 4 August, later 4 August" in found.findings[0]


def test_running_pairs_are_left_out_of_the_means_beside_finished_ones() -> None:
    rows = lives(FIRST, SECOND)
    rows[-1] |= {"finished": False, "total_g": 1.0}
    found = asked(rows).table.iloc[0]
    assert (found["running"], found["tested_pairs"], found["mean_later"]) == (1, 5, sum(SECOND[:5]) / 5)
    with_a_loss = asked([*rows, row("L1", 2021, total_g=100.0), lost("L1", 2022)]).table
    assert with_a_loss["p"].isna().to_list() == [False, True]


def test_missing_values_are_left_out_and_counted() -> None:
    result = asked([*lives(FIRST, SECOND), row("N", 2021, total_g=9.0), overwintered("N", 2022)])
    assert (result.table.iloc[0]["missing"], result.table.iloc[0]["n_pairs"]) == (1, 6)
    assert any("1 pair left out, a value is missing" in caution for caution in result.cautions)


def test_nothing_to_pair_gives_a_sentence() -> None:
    assert "No plant has both its first season and a later one on record." in asked([]).summary()
    assert "No plant has both" in asked([row("A", total_g=1.0)]).summary()
    assert "nothing is compared" in asked([row("A", 2021), overwintered("A", 2022)]).summary()


def test_every_option_changes_an_answer() -> None:
    rows = [*lives(FIRST, SECOND), *lives([3.0, 5.0], [4.0, 9.0], start=2022)]
    third = [overwintered("P2021.0", 2023, total_g=10.0, plant_season=3, plant="P2021.0/2021")]
    rows += [*third, *({**entry, "crop": "pepper"} for entry in lives([7.0], [8.0], start=2030))]
    for entry in rows:
        entry["count"] = entry["season"] % 7
    usual = asked(rows).table
    for option in (
        {"measure": "count"}, {"crop": "pepper"}, {"plant_season": 3}, {"statistic": "values"}, {"level": 0.5},
    ):  # fmt: skip
        assert not asked(rows, **option).table.equals(usual), option


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"measure": "taste"}, "unknown measure 'taste': choose one of total_g"),
        ({"statistic": "mean"}, "choose 'ranks' or 'values'"),
        ({"level": 0}, "between 0 and 1"),
        ({"plant_season": 1}, "second or a later one, not 1"),
    ],
)
def test_a_question_without_sense_is_refused(options: dict[str, Any], says: str) -> None:
    with pytest.raises(AnalysisError, match=says):
        asked(lives(FIRST, SECOND), **options)
