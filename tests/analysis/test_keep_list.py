"""Keep lists from rows by hand: what is expected, who is ranked and why, what is vetoed, what meets a target."""

from __future__ import annotations

import statistics

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.keeping.keep_rows import COLUMNS
from tests.analysis.keep_frame import LAST, Rows, alike, asked, books, differing, life, of, winters


def test_one_row_a_living_plant_in_order_of_what_is_expected() -> None:
    dead = life("D", [900.0, 950.0], ended_how="died")
    gone = life("G", [900.0, 950.0], until=LAST - 1)
    result = asked([*differing(), *dead, *gone], winters=winters(18, 2))
    assert list(result.table.columns) == list(COLUMNS)
    assert set(result.table["label"]) == {f"P{i:02}" for i in range(12)}
    assert result.table["expected_if_alive"].is_monotonic_decreasing
    assert result.table["rank"].tolist() == list(range(1, 13))
    assert any("not listed, as they have ended: D/2019 died" in text for text in result.cautions)
    best = result.table.iloc[0]
    assert best["expected"] == pytest.approx(best["chance_alive"] * best["expected_if_alive"])
    assert best["low"] < best["expected_if_alive"] < best["high"]


def test_equals_stand_by_label_as_a_person_would_write_them() -> None:
    rows = [one for i in (10, 2, 1) for one in life(f"B{i}", [700.0] * 3)]
    assert asked(rows).table["label"].tolist() == ["B1", "B2", "B10"]


def test_those_that_have_ended_are_named_in_the_same_order_however_their_rows_come() -> None:
    gone = [one for i in (10, 2, 1) for one in life(f"D{i}", [900.0], ended_how="died")]
    for rows in (gone, gone[::-1]):
        said = " ".join(asked([*differing(), *rows]).cautions)
        places = [said.index(f" {name}/") for name in ("D1", "D2", "D10")]
        assert places == sorted(places)


def test_balanced_effects_are_means_drawn_in_by_the_repeatability_of_a_mean() -> None:
    """Textbook: for the same seasons of all, effect = k r / (1 + (k - 1) r) times the mean less the mean of all."""
    result = asked(differing())
    share = float(result.outlook["repeatability"].iloc[0])
    drawn = 4 * share / (1 + 3 * share)
    middle = result.table["mean_crop"].mean()
    for _, one in result.table.iterrows():
        assert one["effect"] == pytest.approx(drawn * (one["mean_crop"] - middle), abs=1e-4)
        assert one["expected_if_alive"] == pytest.approx(middle + one["effect"], abs=1e-4)


def test_a_lucky_first_season_counts_for_less_than_a_long_good_record() -> None:
    rows = differing(noise=200.0)
    newcomer = life("N", [1250.0])
    steady = life("S", [1200.0] * 4)
    result = asked([*rows, *newcomer, *steady])
    assert of(result, "N")["mean_crop"] > of(result, "S")["mean_crop"]
    assert of(result, "N")["rank"] > of(result, "S")["rank"]


@given(st.integers(0, 10_000), st.integers(2, 4))
def test_equal_records_are_ranked_as_their_means(seed: int, seasons: int) -> None:
    result = asked(differing(seed=seed, seasons=seasons), repeatability=0.4)
    order = result.table.sort_values("mean_crop", ascending=False)
    assert order["rank"].tolist() == list(range(1, 13))


def test_equal_plants_share_a_rank() -> None:
    result = asked([*differing(), *life("X", [900.0] * 4), *life("Y", [900.0] * 4)])
    assert of(result, "X")["rank"] == of(result, "Y")["rank"]
    worse = result.table[result.table["expected_if_alive"] < of(result, "X")["expected_if_alive"] - 1e-6]
    assert worse["rank"].min() == of(result, "X")["rank"] + 2


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (alike(), "the variance between plants is estimated as zero"),
        (differing(9), "9 units with a known crop in two seasons or more, and it takes 10"),
        (differing(12, seasons=1), "0 units with a known crop in two seasons or more"),
    ],
    ids=["alike", "few", "one season"],
)
def test_without_evidence_it_goes_by_the_root(rows: Rows, why: str) -> None:
    result = asked(rows)
    assert any("no evidence that these plants differ" in text for text in result.findings)
    assert why in result.summary()
    assert "choose by the condition of the roots" in result.summary()
    assert result.table["effect"].isna().all()
    assert result.table["expected_if_alive"].nunique() == 1
    # no root has a condition on record, so that all are equal
    assert set(result.table["rank"]) == {1}
    assert set(result.table["keep"]) == {"even"}


def test_sound_roots_come_before_others_and_weight_orders_equals_in_the_list() -> None:
    rows = differing(6)
    roots = books(
        P00=Root(condition="sound", root_g=80.0), P01=Root(condition="sound", root_g=200.0),
        P02=Root(condition="shrivelled"), P03=Root(condition="sound", broken=True), P04=Root(condition="soft"),
    )  # fmt: skip
    result = asked(rows, books=roots)
    assert result.table["label"].tolist() == ["P01", "P00", "P03", "P05", "P02", "P04"]
    assert result.table["rank"].tolist() == [1, 1, 3, 4, 5, 6]
    assert "condition of the root (sound, 200 g)" in of(result, "P01")["reason"]


def test_the_growers_own_repeatability_ranks_what_records_cannot() -> None:
    rows = differing(6, seasons=2)
    told = asked(rows, repeatability=0.5)
    assert told.outlook["basis"].iloc[0] == "repeatability"
    assert any("ranked by the repeatability given, 0.50" in text for text in told.findings)
    drawn = 2 * 0.5 / 1.5
    top = told.table.iloc[0]
    assert top["effect"] == pytest.approx(drawn * (top["mean_crop"] - told.table["mean_crop"].mean()))
    nothing = asked(differing(), repeatability=0.0)
    assert "no evidence that these plants differ: the repeatability given is 0" in nothing.summary()
    assert "given a repeatability of your own" not in nothing.summary()


def test_veto_of_disease_stands_above_any_crop() -> None:
    ill = Root(veto="virus was recorded on this plant on 2020-07-01")
    result = asked(differing(), books=books(P11=ill), winters=winters(19, 1), places=3)
    row_of = of(result, "P11")
    assert (row_of["keep"], pd.isna(row_of["rank"])) == ("veto", True)
    assert row_of["reason"] == "Not to be kept, nor set near others: virus was recorded on this plant on 2020-07-01."
    assert result.table["label"].iloc[-1] == "P11"
    assert of(result, "P10")["rank"] == 1
    assert any("P11: not to be kept, nor set near others" in text for text in result.cautions)


def test_places_go_by_rank_and_say_who_misses_out() -> None:
    rows = [*differing(), *(one for i in range(4) for one in life(f"F{i}", [100.0]))]
    result = asked(rows, winters=winters(60, 1), places=4)
    kept = result.table[result.table["keep"] == "yes"]
    assert kept["rank"].tolist() == [1, 2, 3, 4]
    assert "misses out on 4 winter places" in str(result.table["reason"].iloc[4])
    assert "2 winter places of 30 left over" not in result.summary()
    assert "winter places of 30 left over" in asked(rows, winters=winters(60, 1), places=30).summary()
    assert (asked(rows, winters=winters(60, 1), places=0).table["keep"] == "no").all()


def test_equals_at_the_edge_of_the_places_are_left_to_choose() -> None:
    result = asked(alike(), places=5)
    assert set(result.table["keep"]) == {"even"}
    assert "equal to others for the last of 5 winter places" in str(result.table["reason"].iloc[0])


def test_linked_plants_are_one_unit_with_one_expectation() -> None:
    rows = differing(14)
    for one in rows:
        if one["label"] in ("P12", "P13") and one["season"] == 2019:
            one.update(unit="P12/2017", sharing=2, total_g=1200.0)
    result = asked(rows)
    a, b = of(result, "P12"), of(result, "P13")
    assert (a["unit"], b["unit"]) == ("P12/2017", "P12/2017")
    assert (a["expected_if_alive"], a["rank"]) == (b["expected_if_alive"], b["rank"])
    assert any("2 plants linked to others by a shared picking" in text for text in result.cautions)
    # what is shown of either is its own
    for one, label in ((a, "P12"), (b, "P13")):
        own = [row_["total_g"] for row_ in rows if row_["label"] == label]
        assert (one["seasons"], one["mean_crop"]) == (4, pytest.approx(statistics.fmean(own)))
        assert f"{statistics.fmean(own):.0f} g a plant over 4 seasons, taken together with 1 more" in one["reason"]


def test_a_running_season_is_said_and_makes_up_no_mean_season() -> None:
    rows = differing()
    over = asked(rows)
    for one in rows:
        if one["season"] == LAST:
            one.update(finished=False, total_g=one["total_g"] - 400)
    running = asked(rows)
    assert any("the season is not over for 12 plants" in text for text in running.cautions)
    assert "its crop is that to date" in str(running.table["missing"].iloc[0])
    # what is not yet in shifts nobody's expectation, but for the last season being no part of the mean
    before = statistics.fmean(one["total_g"] for one in rows if one["season"] < LAST)
    assert running.table["expected_if_alive"].mean() == pytest.approx(before)
    assert running.table["label"].tolist() == over.table["label"].tolist()
    # and it still tells plants apart
    assert (running.table["seasons"] == 4).all()


def test_missing_totals_stay_in_the_list_with_what_is_missing() -> None:
    rows = [*differing(), *life("U", [None, None]), *life("V", [900.0, None], plant_season=None)]
    result = asked(rows)
    assert "no season with a known crop" in of(result, "U")["missing"]
    assert of(result, "U")["effect"] == 0
    assert "1 season without a known crop; its age is not known" in of(result, "V")["missing"]
    assert "total_g of season 2020 is missing" in of(result, "V")["missing"]


def test_too_few_seasons_are_marked_and_seasons_widen_the_interval() -> None:
    two = asked(differing(seasons=2))
    assert any("fewer than 3 seasons" in text for text in two.cautions)
    assert not two.table["holds_season"].any()
    rows = differing(seasons=4)
    calm = asked(rows).table.iloc[0]
    for one in rows:
        one["total_g"] += {2018: 300.0, 2019: -300.0}.get(one["season"], 0.0)
    wild = asked(rows)
    assert not any("fewer than 3 seasons" in text for text in wild.cautions)
    assert wild.table["holds_season"].all()
    assert wild.table.iloc[0]["high"] - wild.table.iloc[0]["low"] > 2 * (calm["high"] - calm["low"])


def test_sites_have_seasons_of_their_own() -> None:
    rows = [one | {"site": "Hill", "plant": f"H{one['plant']}", "unit": f"H{one['plant']}", "label": f"H{one['label']}",
                   "total_g": one["total_g"] / 2} for one in differing()]  # fmt: skip
    result = asked([*differing(), *rows])
    home, hill = (result.table[result.table["site"] == site]["expected_if_alive"].mean() for site in ("Home", "Hill"))
    assert hill == pytest.approx(home / 2)


def test_a_stand_counts_with_all_its_plants() -> None:
    rows = differing()
    alone = asked(rows, winters=winters(19, 1), target=3000.0).plan.set_index("plan")
    for one in rows:
        one.update(plants=4, total_g=4 * one["total_g"])
    stand = asked(rows, winters=winters(19, 1), target=3000.0).plan.set_index("plan")
    assert stand.loc["roots", "roots"] < alone.loc["roots", "roots"]
    # a sowing is one plant, whatever the stands it is learnt from
    assert stand.loc["sowings", "sowings"] == alone.loc["sowings", "sowings"]


@st.composite
def small_gardens(draw: st.DrawFn) -> Rows:
    """Few plants with seasons, crops and stock as they come."""
    rows: Rows = []
    for i in range(draw(st.integers(1, 5))):
        crops = draw(st.lists(st.none() | st.sampled_from([0.0, 1.0, 250.0, 1e6]), min_size=1, max_size=4))
        given_ = draw(st.fixed_dictionaries({
            "plant_season": st.none() | st.integers(1, 12), "stock": st.sampled_from([None, "fresh", "overwintered"]),
            "site": st.sampled_from([None, "Home", "Hill"]), "plants": st.none() | st.integers(1, 9),
            "finished": st.booleans(), "ended_how": st.sampled_from([None, None, "died", "removed"]),
        }))  # fmt: skip
        rows += life(f"P{i}", crops, **given_)
    return rows


@given(small_gardens(), st.none() | st.sampled_from([0.0, 0.4, 1.0]), st.none() | st.integers(0, 3))
def test_whatever_is_on_record_there_is_a_list(rows: Rows, repeatability: float | None, places: int | None) -> None:
    result = asked(rows, repeatability=repeatability, places=places, target=500.0, winters=winters(5, 5))
    table = result.table
    living = {one["plant"] for one in rows if one["season"] == LAST and one["ended_how"] is None}
    assert set(table["plant"]) == living
    assert set(table["keep"]) <= {"yes", "no", "even"}
    assert table["rank"].is_monotonic_increasing
    assert table["reason"].notna().all()
    if places is not None:
        assert (table["keep"] == "yes").sum() <= places
    told = table.dropna(subset=["expected_if_alive"])
    assert (told["low"] >= 0).all()
    assert (told["low"] <= told["expected_if_alive"] + 1e-6).all()
    assert (told["expected_if_alive"] <= told["high"] + 1e-6).all()
    assert result.summary()


def test_only_what_was_known_by_the_season_counts() -> None:
    rows = differing()
    later = [one | {"season": 2021, "total_g": 5000.0 if one["label"] == "P00" else 10.0, "season_name": "2021"}
             for one in rows if one["season"] == LAST]  # fmt: skip
    assert asked([*rows, *later]).table["label"].tolist() == asked(rows).table["label"].tolist()
