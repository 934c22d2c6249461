"""The comparison of stock: what is compared, what is refused, and what is said about it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from perennia.analysis.decisions.comparing.stock import StockComparison, compare_stock, compare_units
from perennia.analysis.exact import exact_two_sample, ratio_two_sample
from perennia.errors import AnalysisError
from tests.analysis.seasons_frame import FrameSource, arms, frame, lost, overwintered, row

OLD, NEW = [900.0, 1200.0, 1500.0, 700.0], [500.0, 650.0, 400.0, 710.0]
SHIFT = ["shift", "shift_low", "shift_high", "ratio", "ratio_low", "ratio_high", "level", "p", "smallest_p"]
crops = st.integers(0, 2000).map(float)
side = st.lists(crops, min_size=1, max_size=5)


def asked(rows: Sequence[dict[str, Any]], **options: Any) -> StockComparison:
    return compare_stock(FrameSource(rows), **options)


def first_row(rows: Sequence[dict[str, Any]], **options: Any) -> Any:
    return asked(rows, **options).table.iloc[0]


def test_one_row_a_crop_season_and_basis_with_the_exact_test_of_its_values() -> None:
    result = asked([*arms(OLD, NEW), *arms(NEW, OLD, crop="pepper")])
    assert list(result.table["crop"]) == ["bean", "bean", "pepper", "pepper"]
    assert list(result.table["basis"]) == ["per survivor", "per root kept"] * 2
    bean, test, ratio = result.table.iloc[0], exact_two_sample([(OLD, NEW)]), ratio_two_sample([(OLD, NEW)])
    assert [bean[name] for name in SHIFT] == [
        test.estimate, test.low, test.high, ratio.estimate, ratio.low, ratio.high, test.level, test.p, test.smallest_p
    ]  # fmt: skip
    assert (bean["mean_arm"], bean["mean_against"], bean["raw_gap"]) == (1075.0, 565.0, 510.0)
    assert result.n == 16
    for part in ("n: 16", "Units: a unit is a plant", "Method: overwintered less", "as if randomised", "Cautions"):
        assert part in result.summary()


@given(side, side, side, st.sampled_from(["total_g", "count", "first_pick"]))
@settings(max_examples=20)
def test_swapping_the_arms_turns_every_sign(
    old: list[float], new: list[float], second_bed: list[float], measure: str
) -> None:
    rows = arms(old, new) + arms(second_bed, new, bed="B2")
    for place, entry in enumerate(rows):
        value = entry["total_g"]
        entry |= {"label": f"P{place}", "unit": f"P{place}", "plant": f"P{place}/1", "count": int(value)}
        entry["first_pick"] = datetime.datetime(2022, 6, 1) + datetime.timedelta(days=int(value) % 90)
    here = compare_units(frame(rows), measure=measure).table
    there = compare_units(frame(rows), measure=measure, arms=("fresh", "overwintered")).table
    for name in ("shift", "raw_gap"):
        assert list(here[name]) == pytest.approx([-value for value in there[name]], abs=1e-9)
    assert list(here["p"]) == pytest.approx(list(there["p"]), abs=1e-12)
    assert list(here["shift_low"].fillna(1e9)) == pytest.approx(list(-there["shift_high"].fillna(-1e9)), abs=1e-9)


@given(side, side, st.integers(-1000, 1000), st.sampled_from(["bed", "cover", "cultivar"]))
@settings(max_examples=25)
def test_arms_that_share_no_bed_cover_or_cultivar_never_give_a_p(
    old: list[float], new: list[float], bed_effect: int, factor: str
) -> None:
    rows = arms([max(0.0, value + bed_effect) for value in old], new)
    for entry in rows[: len(old)]:
        entry[factor] = "elsewhere"
    result = compare_units(frame(rows))
    assert result.table[SHIFT].isna().all(axis=None)
    assert set(result.table["confounded_with"]) == {factor}
    assert result.table["raw_gap"].notna().all()
    counts = result.overlap[result.overlap["factor"] == factor]
    assert not (counts["arm"].gt(0) & counts["against"].gt(0)).any()
    assert (counts["arm"].sum(), counts["against"].sum()) == (len(old), len(new))
    assert f"may as well come from {factor} ({factor}: elsewhere ({len(old)})" in result.findings[0]


def test_confounded_where_bed_and_cultivar_are_shared_but_never_together() -> None:
    rows = arms([900.0, 800.0], [500.0, 450.0])
    for entry, bed, cultivar in zip(rows, ("B1", "B2", "B1", "B2"), ("Red", "Blue", "Blue", "Red"), strict=True):
        entry |= {"bed": bed, "cultivar": cultivar}
    found = first_row(rows)
    assert found["confounded_with"] == "season, cultivar, cover and bed taken together"
    assert found[SHIFT].isna().all()


def test_only_strata_with_both_arms_count_and_the_rest_are_counted() -> None:
    rows = [*arms(OLD, NEW), overwintered("Z1", total_g=9000.0, bed="B9"), row("Z2", total_g=1.0, bed=None)]
    found = first_row(rows)
    assert (found["tested_arm"], found["tested_against"], found["strata"]) == (4, 4, 1)
    assert (found["n_arm"], found["n_against"], found["alone"], found["unplaced"]) == (5, 5, 1, 1)
    assert found["shift"] == exact_two_sample([(OLD, NEW)]).estimate
    two_beds = first_row([*arms(OLD, NEW), *relabelled(arms([90.0], [10.0], bed="B2"))])
    assert two_beds["strata"] == 2
    assert two_beds["p"] == exact_two_sample([(OLD, NEW), ([90.0], [10.0])]).p
    same_name_elsewhere = [*arms(OLD, []), *arms([], NEW, site="Allotment")]
    assert first_row(same_name_elsewhere)["confounded_with"] == "bed"


def relabelled(rows: Sequence[dict[str, Any]], to: str = "R") -> list[dict[str, Any]]:
    return [{**entry, "label": to + entry["label"], "unit": to + entry["unit"], "plant": to + entry["plant"]}
            for entry in rows]  # fmt: skip


def test_beds_declared_alike_make_one_stratum_and_the_caution_stays() -> None:
    rows = [*arms(OLD, [], bed="B1"), *arms([], NEW, bed="B2")]
    assert first_row(rows)["confounded_with"] == "bed"
    declared = asked(rows, beds_alike=("B1", "B2"))
    assert declared.table.iloc[0]["p"] == exact_two_sample([(OLD, NEW)]).p
    assert any("Beds B1, B2 were taken to be alike on your word" in caution for caution in declared.cautions)
    assert set(declared.overlap[declared.overlap["factor"] == "bed"]["level"]) == {"B1", "B2"}
    under_glass = [{**entry, "cover": "glasshouse"} if entry["bed"] == "B1" else entry for entry in rows]
    assert first_row(under_glass, beds_alike=("B1", "B2"))["confounded_with"] == "cover"


def test_a_crop_is_compared_in_its_own_unit_unless_another_is_asked_for() -> None:
    counted = [{**entry, "crop": "Cynara cardunculus var. scolymus", "count": 7} for entry in arms(OLD, NEW)]
    unweighed = [{**entry, "total_g": None, "count": 5} for entry in arms(OLD, NEW, crop="pepper")]
    for rows, measure in ((arms(OLD, NEW), "total_g"), (counted, "count"), (unweighed, "count")):
        result = asked(rows)
        assert (result.measure, set(result.table["measure"])) == (measure, {measure})
    assert asked(counted, measure="total_g").measure == "total_g"
    both = asked([*arms(OLD, NEW), *counted])
    assert (both.measure, set(both.table["measure"])) == ("count, total_g", {"count", "total_g"})


def test_plants_of_which_nobody_wrote_are_counted_not_unsaid() -> None:
    silent = [overwintered(f"O{place}", grew=None, total_g=None, finished=False) for place in range(3)]
    result = asked(silent)
    assert "overwintered n = 0, fresh n = 0" in result.findings[0]
    assert any("3 units left out, nothing is recorded of that season" in caution for caution in result.cautions)


def test_where_every_unit_mixes_stocks_that_is_said() -> None:
    mixed = [overwintered("A1", total_g=300.0, unit="A1", sharing=2), row("A2", total_g=500.0, unit="A1", sharing=2)]
    result = asked(mixed)
    assert list(result.table["mixed"]) == [1]
    assert "overwintered n = 0, fresh n = 0" in result.findings[0]
    assert any("1 unit left out, their shared pickings mix stocks" in caution for caution in result.cautions)


def test_the_first_pick_of_a_unit_is_its_earliest_and_its_t50_the_median() -> None:
    days = [datetime.datetime(2022, 7, day) for day in (1, 11, 24)]
    linked = [overwintered(f"A{day.day}", first_pick=day, t50=day, unit="A1", sharing=3) for day in days]
    rows = [*linked, row("B", first_pick=days[1], t50=days[1])]
    first, half = (first_row(rows, measure=measure)["raw_gap"] for measure in ("first_pick", "t50"))
    assert (first, half) == (-10.0, 0.0)


def test_water_given_is_tabled_in_classes_and_a_difference_between_the_arms_is_said() -> None:
    rows = arms(OLD, NEW)
    for entry, depth in zip(rows, (0.0, 12.0, 50.0, 101.0, 140.0, 200.0, 350.0, 400.0), strict=True):
        entry |= {"watered_mm": depth, "waterings": 4}
    result = asked(rows)
    water = result.overlap[result.overlap["factor"] == "water given"]
    assert list(water[["level", "arm", "against"]].itertuples(index=False, name=None)) == [
        ("0 mm", 1, 0), ("over 0 to 50 mm", 2, 0), ("over 100 to 150 mm", 1, 1), ("over 150 to 200 mm", 0, 1),
        ("over 300 to 350 mm", 0, 1), ("over 350 to 400 mm", 0, 1),
    ]  # fmt: skip
    assert not any("water given" in caution for caution in result.cautions)
    for entry in rows[:4]:
        entry |= {"watered_mm": None, "waterings": 7}
    apart = asked(rows)
    words = "share no water given (overwintered against fresh: over 5 to 10 waterings (4) against over 0 to 5 waterings"
    assert any(words in caution for caution in apart.cautions)
    alike = asked([{**entry, "waterings": 4} for entry in rows])
    assert not any("water given" in caution for caution in alike.cautions)
    unknown = asked([{**entry, "watered_mm": None, "waterings": None} for entry in rows])
    assert set(unknown.overlap[unknown.overlap["factor"] == "water given"]["level"]) == {"not recorded"}


def test_labels_linked_by_shared_pickings_and_stands_are_one_unit() -> None:
    linked = [overwintered("A1", total_g=300.0, unit="A1", sharing=2)]
    linked.append(overwintered("A2", total_g=500.0, unit="A1", sharing=2))
    stand = row("S1", total_g=4000.0, plants=8)
    result = asked([*linked, stand])
    found = result.table.iloc[0]
    assert (found["n_arm"], found["n_against"]) == (1, 1)
    assert (found["mean_arm"], found["mean_against"]) == (400.0, 500.0)
    mixed = asked([*arms(OLD, NEW), overwintered("M1", unit="M1", sharing=2, total_g=9.0),
                   row("M2", unit="M1", sharing=2, total_g=9.0)])  # fmt: skip
    assert mixed.table.iloc[0]["mixed"] == 1
    assert mixed.table.iloc[0]["n_arm"] == 4
    assert any("1 unit left out, their shared pickings mix stocks" in caution for caution in mixed.cautions)


def test_two_lives_of_one_label_in_a_season_are_two_units() -> None:
    found = first_row([overwintered("A1", total_g=10.0, plant="A1/2021"), row("A1", total_g=90.0, plant="A1/2022")])
    assert (found["n_arm"], found["n_against"], found["mixed"]) == (1, 1, 0)


def test_missing_totals_are_left_out_and_counted() -> None:
    result = asked([*arms(OLD, NEW), row("N1"), row("N2", total_g=5.0, plants=None)])
    assert (result.table.iloc[0]["n_against"], result.table.iloc[0]["missing"]) == (4, 2)
    assert any("1 unit left out, total_g is missing" in caution for caution in result.cautions)
    assert any("1 unit left out, the number of plants is missing" in caution for caution in result.cautions)


def test_per_root_kept_counts_the_roots_lost_as_no_crop() -> None:
    result = asked([*arms(OLD, NEW), lost("L1"), lost("L2")])
    survivor, kept = result.table.iloc[0], result.table.iloc[1]
    assert (survivor["n_arm"], kept["n_arm"], survivor["lost"]) == (4, 6, 2)
    assert kept["mean_arm"] == sum(OLD) / 6
    assert kept["p"] == exact_two_sample([([*OLD, 0.0, 0.0], NEW)]).p
    assert any("leaves out 2 kept roots that never grew" in caution for caution in result.cautions)
    assert asked(arms(OLD, NEW)).findings[1].endswith("as per survivor, for no kept root was lost.")
    assert list(asked([*arms(OLD, NEW), lost("L1")], measure="g_per_m2").table["basis"]) == ["per survivor"]


def test_roots_lost_in_store_have_no_place_where_the_living_have_several() -> None:
    rows = [*arms(OLD, NEW), *relabelled(arms(OLD, NEW, bed="B2")), lost("L1")]
    survivor, kept = (asked(rows).table.iloc[place] for place in (0, 1))
    assert survivor["p"] > 0
    assert kept[SHIFT].isna().all()
    assert kept["mean_arm"] == sum(OLD) * 2 / 9
    assert "cannot be placed" in kept["note"]
    in_ground = lost("L1", bed="B2", cover="open", site="Home", wintering="ground, mulched")
    placed = asked([*rows[:-1], in_ground]).table.iloc[1]
    assert placed["p"] == exact_two_sample([(OLD, NEW), ([*OLD, 0.0], NEW)]).p


def test_a_running_season_is_compared_to_date_and_on_first_pick_only() -> None:
    day = datetime.datetime(2022, 7, 1)
    rows = [{**entry, "t50": day, "first_pick": day} for entry in arms(OLD, NEW)]
    rows[0]["finished"] = False
    to_date = first_row(rows)
    assert to_date["p"] > 0
    assert to_date["running"] == 1
    assert "to date" in to_date["note"]
    assert first_row(rows, measure="first_pick")["p"] == 1.0
    for measure in ("t50", "peak_on", "g_per_m2"):
        withheld = asked(rows, measure=measure)
        assert withheld.table.iloc[0][[*SHIFT, "mean_arm", "raw_gap"]].isna().all()
        assert "still running" in withheld.findings[0]


def test_dates_are_compared_in_days_and_shown_as_dates() -> None:
    rows = arms(OLD, NEW)
    for place, entry in enumerate(rows):
        entry["first_pick"] = datetime.datetime(2022, 7, 1 if place < 4 else 11) + datetime.timedelta(days=place % 4)
    result = asked(rows, measure="first_pick")
    found = result.table.iloc[0]
    assert (found["shift"], found["raw_gap"]) == (-10.0, -10.0)
    assert found[["ratio", "ratio_low", "ratio_high"]].isna().all()
    assert found["mean_arm"] == 183.5  # 1 July is day 182
    assert "overwintered 3 July (mean, n = 4)" in result.findings[0]
    assert "shift -10 days" in result.findings[0]


def test_a_layout_too_small_for_five_per_cent_says_so() -> None:
    result = asked(arms([900.0, 950.0, 990.0], [100.0, 120.0, 140.0]))
    found = result.table.iloc[0]
    assert (found["p"], found["smallest_p"], found["level"]) == pytest.approx((0.1, 0.1, 0.9))
    assert "smallest p this layout could give 0.1; this layout cannot reach 5 % whatever the crop" in result.findings[0]
    assert "90 % interval" in result.findings[0]
    assert "cannot reach" not in asked(arms(OLD, NEW)).findings[0]


def test_selection_tells_how_far_kept_plants_had_led() -> None:
    before = [row(f"O{i}", 2021, total_g=value) for i, value in enumerate((800.0, 600.0))]
    before += [row("D1", 2021, total_g=300.0), row("D2", 2021, total_g=None), row("L1", 2021, total_g=400.0)]
    result = asked([*before, *arms(OLD, NEW), lost("L1")], season=2022)
    (found,) = result.selection.to_dict("records")
    assert (found["n_kept"], found["n_not_kept"], found["missing"]) == (3, 1, 1)
    assert (found["mean_kept"], found["mean_not_kept"], found["ratio"]) == (600.0, 300.0, 2.0)
    assert any("averaged 600 g a plant (n = 3), those not carried over 300 g a plant (n = 1)" in caution
               for caution in result.cautions)  # fmt: skip
    assert list(result.table["season"].unique()) == [2022]


def test_other_stock_moves_planting_months_and_seed_are_said() -> None:
    rows = arms(OLD, NEW)
    for entry in rows[:4]:
        entry |= {"planted_on": datetime.datetime(2022, 5, 3), "moved": True}
    for entry in rows[4:]:
        entry |= {"planted_on": datetime.datetime(2022, 6, 9), "left_for_seed": 3}
    said = " ".join(asked([*rows, row("B", stock="bought root", total_g=1.0), row("G", grew=False),
                           overwintered("U", grew=None), overwintered("X", grew=False, ended_how="removed")]).cautions)
    for part in (
        "4 units stood in a second bed",
        "bought root (1)",
        "share no planting month (overwintered against fresh: 2022-05 (4) against 2022-06 (4))",
        "4 fresh units had pods or fruit left for seed",
        "2 units left out, ended before coming into growth",
        "1 unit left out, nothing is recorded of that season",
    ):
        assert part in said


def test_pooled_counts_every_plant_once_in_its_first_comparable_season() -> None:
    later = [
        overwintered(f"O{i}", 2023, total_g=1.0, plant_season=3, plant=f"O{i}/2021") for i in range(4)
    ]  # fmt: skip
    second = relabelled(arms([800.0], [300.0, 310.0], season=2023), "Q")
    running = relabelled(arms([5.0], [1.0], season=2024, finished=False), "T")
    rows = [*arms(OLD, NEW), *later, *second, *running]
    result = asked(rows, pooled=True)
    found = result.table.iloc[0]
    assert (found["seasons"], found["tested_arm"], found["tested_against"]) == ("2022, 2023", 5, 6)
    assert found["p"] == exact_two_sample([(OLD, NEW), ([800.0], [300.0, 310.0])]).p
    assert found["left_by_pooling"] == 6
    assert len(asked(rows).table) == 6
    for entry in rows:
        entry["first_pick"] = datetime.datetime(entry["season"] + 1, 2, 3)
    assert "3 February of the year after" in asked(rows, pooled=True, measure="first_pick").findings[0]


def test_pooled_seasons_that_are_over_do_not_wait_for_one_that_runs() -> None:
    over = [{**entry, "g_per_m2": entry["total_g"]} for entry in arms(OLD, NEW)]
    running = [{**entry, "g_per_m2": 1.0} for entry in relabelled(arms([5.0], [1.0], season=2023, finished=False), "T")]
    result = asked([*over, *running], pooled=True, measure="g_per_m2")
    found = result.table.iloc[0]
    assert (found["seasons"], found["tested_arm"], found["tested_against"]) == ("2022", len(OLD), len(NEW))
    assert found["p"] == exact_two_sample([(OLD, NEW)]).p
    alone = asked(running, pooled=True, measure="g_per_m2").table.iloc[0]
    assert pd.isna(alone["p"])
    assert "withheld" in alone["note"]


def test_no_plants_or_one_arm_give_a_sentence() -> None:
    assert "No overwintered or fresh plants are on record" in asked([]).summary()
    only_fresh = asked([row("F1", total_g=1.0)])
    assert "overwintered n = 0, fresh n = 1; no overwintered plants with a value" in only_fresh.summary()
    assert only_fresh.table[SHIFT].isna().all(axis=None)
    nothing_known = asked([row("F1"), overwintered("O1")])
    assert "nothing is compared" in nothing_known.summary()


def test_every_option_changes_an_answer() -> None:
    rows = [*arms(OLD, NEW), *arms([700.0, 20.0], [35.0], season=2023), *arms([3.0], [4.0], crop="pepper")]
    rows += [row("B", stock="bought root", total_g=77.0)]
    for entry in rows:
        entry["count"] = 7 if entry["stock"] == "fresh" else 3
    usual = asked(rows).table
    for option in (
        {"measure": "count"}, {"season": 2022}, {"crop": "pepper"}, {"statistic": "values"}, {"level": 0.5},
        {"arms": ("bought root", "fresh")}, {"pooled": True},
    ):  # fmt: skip
        assert not asked(rows, **option).table.equals(usual), option


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"measure": "taste"}, "choose one of total_g, count, g_per_m2, g_per_m2_week, first_pick, t50, peak_on"),
        ({"statistic": "mean"}, "choose 'ranks' or 'values'"),
        ({"level": 95}, "between 0 and 1"),
        ({"beds_alike": ("B1", "B7")}, "names B7; beds on record are B1"),
        ({"beds_alike": "B1"}, "takes two or more beds"),
        ({"arms": ("fresh", "fresh")}, "two different kinds of stock"),
    ],
)
def test_a_question_without_sense_is_refused(options: dict[str, Any], says: str) -> None:
    with pytest.raises(AnalysisError, match=says):
        asked(arms(OLD, NEW), **options)


def test_lost_roots_are_placed_among_beds_declared_alike() -> None:
    rows = [*arms(OLD[:2], NEW[:2]), *arms(OLD[2:], NEW[2:], bed="B2")]
    for place, entry in enumerate(rows):
        entry |= {"label": f"P{place}", "unit": f"P{place}", "plant": f"P{place}/{entry['plant'].split('/')[1]}"}
    kept = asked([*rows, lost("L1")]).table.iloc[1]
    alike = asked([*rows, lost("L1")], beds_alike=("B1", "B2")).table.iloc[1]
    assert kept["basis"] == alike["basis"] == "per root kept"
    assert alike["tested_arm"] == 5
    assert kept["tested_arm"] == 0


def test_plants_that_never_grew_are_no_part_of_those_not_carried_on() -> None:
    before = [row(f"A{n}", 2021, total_g=100.0 * n) for n in (1, 2, 3)]
    before.append(row("A9", 2021, total_g=0.0, grew=False))
    after = [overwintered("A3", 2022, total_g=400.0, plant="A3/2021"), row("F1", total_g=300.0)]
    found = asked([*before, *after]).selection.iloc[0]
    assert (found["n_kept"], found["n_not_kept"], found["mean_not_kept"]) == (1, 2, 150.0)
