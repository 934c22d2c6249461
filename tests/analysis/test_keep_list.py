"""Keep lists from rows by hand: what is expected, who is ranked and why, what is vetoed, what meets a target."""

from __future__ import annotations

import re
import statistics
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from perennia.analysis.decisions.keeping.keep_list import KeepList, keep_list, keep_list_of
from perennia.analysis.decisions.keeping.keep_roots import Root, RootBooks
from perennia.analysis.decisions.keeping.keep_rows import COLUMNS
from perennia.analysis.decisions.keeping.keep_seed import seeds_for
from perennia.analysis.decisions.surviving.root_winters import DIED, NOT_REGROWN, OPEN, SURVIVED, Winter
from perennia.analysis.measures import MEASURES
from perennia.errors import AnalysisError, ArgumentError
from tests.analysis.seasons_frame import frame, row

Rows = list[dict[str, Any]]
STORE = "bare root, frost-free"
LAST = 2020


def life(label: str, crops: Sequence[float | None], until: int = LAST, **given: Any) -> Rows:
    """A plant's seasons, the last one in until; None is a season whose crop is not known."""
    began = until - len(crops) + 1
    plant = f"{label}/{began}"
    return [
        row(label, began + k, **({"total_g": crop, "plant_season": k + 1, "plant": plant, "unit": plant,
                                  "stock": "overwintered" if k else "fresh", "kept_root": k > 0,
                                  "wintering": STORE if k else None} | given))
        for k, crop in enumerate(crops)
    ]  # fmt: skip


def differing(n: int = 12, seasons: int = 4, seed: int = 7, noise: float = 60.0) -> Rows:
    """Plants that differ, the later the better, all with the same seasons."""
    random = np.random.default_rng(seed)
    return [
        one for i in range(n)
        for one in life(f"P{i:02}", [float(crop) for crop in 600 + 50 * i + noise * random.normal(size=seasons)])
    ]  # fmt: skip


def alike() -> Rows:
    """Plants whose seasons differ and which, on average, do not: their variance is estimated as zero."""
    return [one for i in range(12) for one in life(f"P{i:02}", [700.0 + 60 * (-1) ** i, 700.0 - 60 * (-1) ** i, 700.0])]


def alike_of(began: int) -> Rows:
    """The same, begun in a year."""
    return [one for i in range(12) for one in life(f"P{i:02}", [700.0] * (LAST - began + 1))]


def winter(number: int, outcome: str, wintering: str = STORE, box: str | None = None) -> Winter:
    return Winter(f"W{number}/2010", f"W{number}", "bean", None, 2015, "2015", 2, "seed", wintering, "Home", None, None,
                  box, 1, None, None, outcome, None, None, None)  # fmt: skip


def winters(alive: int, dead: int) -> dict[str, list[Winter]]:
    """So many roots that came through in store, and that did not."""
    return {"bean": [winter(i, SURVIVED if i < alive else DIED) for i in range(alive + dead)]}


def books(**roots: Root) -> dict[str, RootBooks]:
    """Roots by label, of plants begun in 2017."""
    return {"bean": RootBooks(roots={f"{label}/2017": root for label, root in roots.items()}, ended={})}


def asked(rows: Sequence[Mapping[str, Any]], **options: Any) -> KeepList:
    return keep_list_of(frame(rows), LAST, **options)


def of(result: KeepList, label: str) -> pd.Series:
    (found,) = (entry for _, entry in result.table.iterrows() if entry["label"] == label)
    return found


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


def test_plants_not_seen_since_the_winter_are_looked_for_and_not_ranked(tmp_path: Path) -> None:
    """As survival counts them; only the latest winter of a plant counts."""
    silent = [attrs.evolve(winter(i, NOT_REGROWN), plant="P11/2017", winter=LAST + i, winter_name=str(LAST + i))
              for i in (-1, 0)]  # fmt: skip
    back = [attrs.evolve(winter(i, outcome), plant="P10/2017", winter=LAST + i)
            for i, outcome in ((-1, NOT_REGROWN), (0, SURVIVED))]  # fmt: skip
    roots = books(P11=Root(root_g=220.0, weighed_on=date(2016, 11, 4)))
    result = asked(differing(), winters={"bean": [*silent, *back]}, books=roots, target=3000.0)
    assert set(result.table["label"]) == {f"P{i:02}" for i in range(11)}
    assert result.table["rank"].tolist() == list(range(1, 12))
    (one,) = (entry for _, entry in result.unseen.iterrows())
    assert (one["label"], one["winter"], one["root_g"]) == ("P11", "2020", 220)
    assert "not seen since the winter: look before you keep: P11 (before 2020" in result.summary()
    page = result.to_html(tmp_path / "list.html").read_text(encoding="utf-8")
    assert "<b>P11</b>" not in page
    assert "Not seen since the winter" in page.partition('id="labels"')[0]
    nobody = asked(life("Z", [500.0, 500.0]), winters={"bean": [attrs.evolve(silent[-1], plant="Z/2019")]})
    assert (len(nobody.table), len(nobody.unseen)) == (0, 1)


def test_weights_have_their_day_and_those_of_an_earlier_winter_are_called_old(tmp_path: Path) -> None:
    roots = books(P00=Root(root_g=900.0, weighed_on=date(2019, 11, 1), old=True),
                  P01=Root(root_g=300.0, weighed_on=date(2020, 11, 1)))  # fmt: skip
    result = asked(alike_of(2017), books=roots)
    # an old weight says nothing of the root as it is now
    assert result.table["label"].tolist()[:2] == ["P01", "P00"]
    assert "300 g on 2020-11-01)" in of(result, "P01")["reason"]
    assert "900 g on 2019-11-01, an earlier winter" in of(result, "P00")["reason"]
    assert "weighed in an earlier winter, so weigh again: P00" in result.summary()
    page = result.to_html(tmp_path / "list.html").read_text(encoding="utf-8")
    assert "Root last weighed at 900 g on 2019-11-01." in page


def test_equals_stand_by_label_as_a_person_would_write_them() -> None:
    rows = [one for i in (10, 2, 1) for one in life(f"B{i}", [700.0] * 3)]
    assert asked(rows).table["label"].tolist() == ["B1", "B2", "B10"]


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


def test_survival_that_nobody_recorded_is_never_taken_for_certain() -> None:
    result = asked(differing())
    assert result.table["chance_alive"].isna().all()
    assert result.table["expected"].isna().all()
    assert not (result.table["keep"] == "yes").any()
    assert "survival is not known" in result.summary()
    best = result.table.iloc[0]
    even = best["fresh_expected"] / best["expected_if_alive"]
    assert f"worth more than fresh stock if its chance to live is above {even:.0%}" in best["reason"]
    other = asked(differing(), wintering="ground, mulch", winters=winters(18, 2))
    assert other.table["expected"].isna().all()
    assert f"no such winter is on record (there are {STORE})" in other.summary()


def test_the_winter_is_the_usual_one_unless_another_is_named() -> None:
    known = {"bean": [*winters(17, 3)["bean"], *(winter(50 + i, DIED, "ground") for i in range(10))]}
    usual, named = asked(differing(), winters=known), asked(differing(), winters=known, wintering="ground")
    assert "(the wintering most used here)" in usual.summary()
    assert usual.table["chance_alive"].iloc[0] == pytest.approx(17.5 / 21)
    assert named.table["chance_alive"].iloc[0] == pytest.approx(0.5 / 11)
    assert set(named.table["keep"]) == {"no"}
    assert (usual.winters["roots"].iloc[0], usual.winters["alive"].iloc[0]) == (20, 17)


def test_a_root_already_in_store_has_the_chance_of_that_store() -> None:
    known = {"bean": [*winters(19, 1)["bean"], *(winter(50 + i, DIED, "pot, heated") for i in range(9)),
                      attrs.evolve(winter(99, OPEN, "pot, heated"), plant="P11/2017", winter=LAST + 1)]}  # fmt: skip
    result = asked(differing(), winters=known)
    assert of(result, "P11")["wintering"] == "pot, heated"
    assert of(result, "P11")["chance_alive"] == pytest.approx(0.5 / 10)
    assert of(result, "P10")["chance_alive"] == pytest.approx(19.5 / 21)
    # the winter is part of the rank where it is known for all
    assert (of(result, "P10")["rank"], of(result, "P11")["rank"]) == (1, 12)
    assert asked(differing(), winters=known, wintering=STORE).table["chance_alive"].nunique() == 1


def test_three_of_three_is_not_certain_and_a_shared_box_is_one_root() -> None:
    alone = asked(differing(), winters=winters(3, 0))
    assert alone.table["chance_alive"].iloc[0] == pytest.approx(3.5 / 4)
    boxed = asked(differing(), winters={"bean": [winter(i, SURVIVED, box="crate") for i in range(6)]})
    assert boxed.table["chance_alive"].iloc[0] == pytest.approx(1.5 / 2)


def test_the_chance_to_live_does_not_hang_on_the_level_of_the_intervals() -> None:
    known = {"bean": [winter(i, DIED if i % 7 in (0, 3) else SURVIVED, box=f"crate {i % 5}") for i in range(30)]}
    wide, narrow = (asked(differing(), winters=known, level=level) for level in (0.99, 0.5))
    assert wide.table["chance_alive"].tolist() == narrow.table["chance_alive"].tolist()
    assert wide.winters["low"].iloc[0] < narrow.winters["low"].iloc[0]


def test_a_chance_that_differs_from_the_share_says_why() -> None:
    text = "10 of 11 roots on record came through"
    alone = asked(differing(), winters=winters(10, 1)).summary()
    assert text in alone
    assert "taken as 88%, half a root being added to the living and half a root to the dead" in alone
    assert "shared a box" not in alone
    shared = [winter(i, SURVIVED if i < 10 else DIED, box=f"crate {i % 2}") for i in range(11)]
    assert "roots that shared a box count for fewer" in asked(differing(), winters={"bean": shared}).summary()


def test_selection_is_told_once_for_the_latest_seasons() -> None:
    rows = [*differing(seasons=6), *(one for year in range(2015, 2020) for i in range(3)
                                     for one in life(f"G{year}{i}", [300.0], until=year))]  # fmt: skip
    (said,) = (text for text in asked(rows).cautions if "not drawn by lot" in text)
    assert [f"before {year} " in said for year in range(2016, 2021)] == [False, False, True, True, True]


def test_cautions_of_several_crops_are_said_once() -> None:
    pea = [one | {"crop": "pea", "plant": f"{one['plant']}p"} for one in differing(seasons=2)]
    said = asked([*differing(seasons=2), *pea]).cautions
    assert any(text.startswith("bean, pea: fewer than 3 seasons") for text in said)
    rows = [one | {"finished": False} for one in [*differing(seasons=2), *pea] if one["label"] not in ("P01", "P02")
            or one["crop"] == "bean"]  # fmt: skip
    assert any("bean, pea: the season is not over for 12 and 10 plants" in text for text in asked(rows).cautions)


def test_winters_after_the_choice_do_not_count() -> None:
    later = [Winter("L/2010", "L", "bean", None, LAST + 1, "2021", 2, "seed", STORE, None, None, None, None, 1, None,
                    None, DIED, None, None, None)]  # fmt: skip
    assert asked(differing(), winters={"bean": later}).table["chance_alive"].isna().all()


def test_roots_are_held_against_fresh_stock_of_the_mean_season() -> None:
    """A good year for seedlings is not held against roots: fresh crops are moved to the mean season."""
    rows = differing()
    for i in range(6):
        rows += life(f"F{i}", [825.0 + 20 * i])
    for one in rows:
        one["total_g"] += {2020: 1600.0}.get(one["season"], 0.0)
    result = asked(rows, winters=winters(19, 1))
    fresh = result.fresh.iloc[0]
    assert (fresh["n"], fresh["with_kept"]) == (18, 1)
    raw = statistics.fmean(one["total_g"] for one in rows if one["stock"] == "fresh")
    # seedlings of 2020 had 1600 g of the year's, of which a mean of four seasons holds 400
    assert raw == pytest.approx(875 + 1600 / 3, abs=30)
    assert fresh["expected"] == pytest.approx(875 + 400, abs=30)
    assert fresh["plain_mean"] == pytest.approx(raw)
    assert bool(fresh["moved"])
    assert f"whose plain mean is {raw:.0f}: each is moved to a mean season" in result.summary()
    top, bottom = result.table.iloc[0], result.table.iloc[-1]
    assert (top["keep"], bottom["keep"]) == ("yes", "no")
    assert "more than fresh stock, the winter reckoned with" in top["reason"]
    assert "less than fresh stock once the winter is reckoned with" in bottom["reason"]
    assert " p " not in result.summary()


@pytest.mark.parametrize(("beside", "moved"), [(0, False), (2, False), (3, True)])
def test_fresh_crops_are_moved_only_where_fresh_and_older_plants_shared_a_season(beside: int, moved: bool) -> None:
    """Seedlings of the first year alone, older plants ever after: what a year did cannot be told from age."""
    rows = [*differing(), *(one for i in range(beside) for one in life(f"F{i}", [800.0 + 9 * i]))]
    for one in rows:
        one["total_g"] += 400.0 * (one["stock"] == "overwintered")
    result = asked(rows)
    fresh = result.fresh.iloc[0]
    assert bool(fresh["moved"]) == moved
    plain = statistics.fmean(one["total_g"] for one in rows if one["stock"] == "fresh")
    assert fresh["plain_mean"] == pytest.approx(plain)
    assert (fresh["expected"] == pytest.approx(plain)) != moved
    text = "the plain mean of 1" if not moved else "whose plain mean is"
    assert text in result.summary()


def test_where_plants_are_not_told_apart_fresh_crops_are_left_as_they_were() -> None:
    rows = [one for i in range(5) for one in life(f"P{i}", [300.0 + i, 900.0 + i])]
    rows += [one for i in range(4) for one in life(f"F{i}", [280.0 + i])]
    result = asked(rows)
    assert result.fresh["expected"].iloc[0] == pytest.approx((5 * 302 + 4 * 281.5) / 9)
    assert "cannot be told from who stood in it" in str(result.fresh["unmoved"].iloc[0])


def test_what_the_records_cannot_tell_from_fresh_stock_is_even_and_never_before_more() -> None:
    rows = [*differing(), *life("U", [None, None]), *(one for i in range(6) for one in life(f"F{i}", [945.0 + 5 * i]))]
    result = asked(rows, winters=winters(190, 10))
    keeps = result.table["keep"].tolist()
    assert set(keeps) == {"yes", "even", "no"}
    assert keeps == sorted(keeps, key=["yes", "even", "no"].index)
    even = result.table[result.table["keep"] == "even"]["reason"]
    assert even.str.contains("as much as fresh stock, so far as the records can tell").all()
    # nothing is known of it, which is no reason to put it before those that are expected to bear more
    assert "expected to bear less than others that are not worth a place" in of(result, "U")["reason"]


def test_what_fresh_and_kept_stock_did_not_share_is_said() -> None:
    rows = [one | ({"bed": "B2", "cover": "tunnel"} if one["stock"] == "fresh" else {}) for one in differing()]
    said = " ".join(asked(rows).cautions)
    assert "the arms share no cover (kept against fresh: open" in said
    assert "the arms share no bed" in said


def test_no_fresh_stock_on_record_leaves_nothing_to_hold_roots_against() -> None:
    rows = [one | {"stock": "overwintered"} for one in differing()]
    result = asked(rows, winters=winters(19, 1))
    assert result.table["fresh_expected"].isna().all()
    assert set(result.table["keep"]) == {"even"}
    said = str(result.table["reason"].iloc[0])
    assert "nothing to hold it against: no first season of a plant from seed has a known crop" in said


def test_a_crop_that_bears_nothing_in_its_first_season_has_no_fresh_expectation() -> None:
    rows = [one | {"crop": "Asparagus officinalis"} for one in differing(seasons=5)]
    result = keep_list_of(frame(rows), LAST)
    assert "by its profile it first crops in season" in str(result.fresh["note"].iloc[0])
    assert any("too young to bear" in text for text in result.cautions)
    assert any(text.startswith("Cautions are reminders") for text in result.cautions)


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


def test_choices_say_why_for_all_who_share_a_reason() -> None:
    result = asked([*differing(), *(one for i in range(6) for one in life(f"F{i}", [825.0 + 20 * i]))])
    (no,) = (said for said in result.findings if "not worth a place" in said)
    assert "(less than fresh stock is expected to bear, even if it lives; n = " in no
    even = next(said for said in result.findings if "nothing on record decides" in said)
    assert re.search(r"if its chance to live is above \d+% to \d+%, and no winter", even)


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


def staggered(age: float) -> Rows:
    """Plants begun in each of four years, whose later seasons bear so much more."""
    random = np.random.default_rng(11)
    rows: Rows = []
    for i in range(16):
        crops = 700 + 40 * random.normal() + 30 * random.normal(size=1 + i % 4)
        crops[1:] += age
        rows += life(f"P{i:02}", [float(crop) for crop in crops])
    return rows


def test_age_is_taken_up_where_it_can_be_told() -> None:
    result = asked(staggered(-200.0))
    outlook = result.outlook.iloc[0]
    assert outlook["age_low"] <= -200 <= outlook["age_high"]
    assert outlook["age_high"] < 0
    assert "in later seasons plants bore -" in result.summary()
    # every root kept will be in a later season
    assert result.table["expected_if_alive"].mean() < result.table["fresh_expected"].iloc[0] - 100


@pytest.mark.parametrize("how", ["died", "removed", None])
def test_a_plant_that_is_missing_leaves_age_untold(how: str | None) -> None:
    rows = [*staggered(-200.0), *(one | {"ended_how": how} for one in life("G", [600.0], until=LAST - 2))]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "1 plant that had borne before died, had been taken out" in str(result.outlook["age_note"].iloc[0])
    assert "without any ageing" in result.summary()


def test_strong_plants_that_live_on_are_not_taken_for_plants_that_grew_better_with_age() -> None:
    """Every plant bears the same in every year; the weaker half of the first sowing dies in store."""
    crops = [200.0, 300.0, 350.0, 400.0, 450.0, 900.0, 950.0, 1000.0, 1100.0, 1200.0]
    rows = [one for i, crop in enumerate(crops) for one in life(f"Q{i}", [crop])]
    for i, crop in enumerate(crops):
        both = life(f"P{i}", [crop, crop])
        rows += both if crop > 500 else [both[0], both[1] | {"total_g": None, "grew": False, "ended_how": "died"}]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "5 plants that had borne before died" in str(result.outlook["age_note"].iloc[0])


def test_age_takes_effects_of_plants() -> None:
    """Without them the lead of those that lasted would count as age."""
    rows = [one for i in range(4) for one in life(f"P{i}", [900.0 + i, 901.0 + 2 * i])]
    rows += [one for i in range(4) for one in life(f"F{i}", [400.0 + 3 * i])]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "plants are not told apart" in str(result.outlook["age_note"].iloc[0])


def test_plants_whose_first_season_is_not_on_record_say_nothing_of_age() -> None:
    old = [one | {"stock": "overwintered", "kept_root": True} for i in range(6)
           for one in life(f"U{i}", [3000.0 + i, 3000.0 - i])]  # fmt: skip
    alone, beside = (asked(rows).outlook.iloc[0] for rows in (staggered(-200.0), [*staggered(-200.0), *old]))
    assert beside["age_change"] == pytest.approx(alone["age_change"], abs=15)


@pytest.mark.parametrize(("young", "told"), [(2, False), (3, True)])
def test_age_takes_three_plants_of_either_age_in_one_season(young: int, told: bool) -> None:
    rows = [one for i in range(young) for one in life(f"Y{i}", [600.0 + 9 * i])]
    result = asked([*differing(), *rows])
    assert (result.outlook["age_change"].notna().iloc[0]) == told
    assert told or "fewer than 3 plants of either age" in result.summary()


def test_plants_of_unknown_age_leave_the_effect_of_age_as_it_is() -> None:
    rows = [one for i in range(4) for one in life(f"U{i}", [3000.0, 3000.0], stock=None)]
    result = asked([*staggered(-200.0), *rows])
    outlook = result.outlook.iloc[0]
    assert outlook["age_low"] <= -200 <= outlook["age_high"]


def test_sites_have_seasons_of_their_own() -> None:
    rows = [one | {"site": "Hill", "plant": f"H{one['plant']}", "unit": f"H{one['plant']}", "label": f"H{one['label']}",
                   "total_g": one["total_g"] / 2} for one in differing()]  # fmt: skip
    result = asked([*differing(), *rows])
    home, hill = (result.table[result.table["site"] == site]["expected_if_alive"].mean() for site in ("Home", "Hill"))
    assert hill == pytest.approx(home / 2)


def test_plants_of_one_beginning_cannot_tell_age_from_year() -> None:
    note = str(asked(differing()).outlook["age_note"].iloc[0])
    assert "age and year cannot be told apart" in note


def test_those_kept_before_had_out_cropped_the_others() -> None:
    rows = [*differing(), *(one for i in range(4) for one in life(f"G{i}", [400.0], until=2017))]
    result = asked(rows)
    assert len(result.selection) >= 1
    assert result.selection["gap"].iloc[0] > 0
    assert any("that is choosing, and says nothing of age" in text for text in result.cautions)


def test_a_target_is_met_by_roots_by_seed_and_by_both() -> None:
    rows = differing()
    easy, hard = (asked(rows, winters=winters(19, 1), target=target) for target in (2000.0, 6000.0))
    ways = easy.plan.set_index("plan")
    assert {"roots", "sowings", "roots and sowings"} <= set(ways.index)
    assert (ways["probability"] >= 0.9).all()
    assert ways.loc["roots", "roots"] < hard.plan.set_index("plan").loc["roots", "roots"]
    assert ways.loc["sowings", "sowings"] < hard.plan.set_index("plan").loc["sowings", "sowings"]
    surer = asked(rows, winters=winters(19, 1), target=6000.0, assurance=0.99).plan.set_index("plan")
    assert surer.loc["sowings", "sowings"] > hard.plan.set_index("plan").loc["sowings", "sowings"]
    assert "a target of 6000 g is met" in hard.summary()


def test_plans_and_insurance_take_no_more_roots_than_there_are_places() -> None:
    """Of twelve equals for six places all are left to choose from, and six are reckoned with."""
    rows = [*alike(), *(one for i in range(4) for one in life(f"F{i}", [600.0 + 40 * i]))]
    roomy, tight = (asked(rows, winters=winters(18, 2), target=6000.0, places=places) for places in (None, 6))
    ways = tight.plan.set_index("plan")
    assert ways.loc["roots and sowings", "roots"] == 6
    assert pd.isna(ways.loc["roots", "roots"])
    assert "the roots for 6 winter places do not meet it" in tight.summary()
    assert roomy.plan.set_index("plan").loc["roots", "roots"] > 6
    assert "as the 6 roots to be kept are expected to" in tight.summary()
    none = asked(rows, winters=winters(18, 2), target=6000.0, places=0).plan.set_index("plan")
    assert (none["roots"].fillna(0) == 0).all()


def test_roots_that_may_die_take_more_than_roots_that_do_not() -> None:
    safe, risky = (asked(differing(), winters=known, target=2500.0).plan.set_index("plan").loc["roots", "roots"]
                   for known in (winters(200, 0), winters(100, 100)))  # fmt: skip
    assert risky > safe
    unknown = asked(differing(), target=2500.0)
    assert unknown.plan.set_index("plan").loc["roots", "winter_reckoned"] == np.False_
    assert "if every root lives, for survival is not known" in unknown.summary()


def test_seasons_that_differ_take_more_roots_and_sowings() -> None:
    """A bad year is bad for all: more plants do not make up for it as they do for single ones that fail."""
    calm, wild = differing(seasons=5), differing(seasons=5)
    for one in wild:
        one["total_g"] += {2017: 250.0, 2018: -250.0, 2019: 250.0, 2020: -250.0}.get(one["season"], 0.0)
    needed = [asked(rows, winters=winters(190, 10), target=3000.0).plan.set_index("plan") for rows in (calm, wild)]
    assert needed[1].loc["roots", "roots"] > needed[0].loc["roots", "roots"]
    assert needed[1].loc["sowings", "sowings"] > needed[0].loc["sowings", "sowings"]


def test_a_target_beyond_all_roots_says_so() -> None:
    result = asked(differing(), winters=winters(19, 1), target=90_000.0)
    assert pd.isna(result.plan.set_index("plan").loc["roots", "roots"])
    assert "is not met by the roots alone" in result.summary()


def test_losing_the_fullest_box_is_shown_apart() -> None:
    roots = books(**{f"P{i:02}": Root(box="crate 1" if i > 6 else None) for i in range(12)})
    result = asked(differing(), books=roots, winters=winters(19, 1), target=8000.0)
    ways = result.plan.set_index("plan")
    assert "roots without box crate 1" in ways.index
    assert ways.loc["roots without box crate 1", "sowings"] > ways.loc["roots and sowings", "sowings"]
    assert 'should all in the box "crate 1" be lost,' in result.summary()


def lot(event: str, on: date, **given: Any) -> dict[str, Any]:
    return {"lot": "own", "event": event, "on_to": on, "sown": None, "germinated": None} | given


def test_seed_is_sown_by_the_latest_test_of_its_lot() -> None:
    tests = [
        lot("seed_saved", date(2014, 9, 1)),
        lot("germination_test", date(2015, 2, 1), sown=20, germinated=19),
        lot("germination_test", date(2020, 2, 1), sown=20, germinated=10),
    ]
    result = asked(differing(), lots={"bean": tests}, winters=winters(19, 1), target=6000.0)
    seed = result.seeds.iloc[0]
    assert (seed["tested"], seed["germinated"], seed["age_years"]) == (20, 10, 7)
    alone = result.plan.set_index("plan").loc["sowings", "sowings"]
    assert seed["sow_alone"] == seeds_for(int(alone), 10, 20, 0.9)
    assert seed["sow_alone"] > 1.5 * alone
    assert "lot own germinated 10 of 20" in result.summary()
    untested = asked(differing(), lots={"bean": tests[:1]})
    assert "no lot of seed has a germination test" in untested.summary()
    assert "no seed lot of this crop is on record" in asked(differing()).summary()


def test_old_seed_and_old_tests_are_to_be_minded() -> None:
    rows = [one | {"crop": "Phaseolus coccineus"} for one in differing()]
    tests = [lot("seed_saved", date(2014, 9, 1)),
             lot("germination_test", date(2015, 2, 1), sown=20, germinated=19)]  # fmt: skip
    note = str(keep_list_of(frame(rows), LAST, lots={"Phaseolus coccineus": tests}).seeds["note"].iloc[0])
    assert "7 years old by then, and its crop's seed is counted on for 3" in note
    assert "tested in 2015, seed loses life with age: test it again" in note


@given(st.integers(1, 30), st.integers(1, 40), st.data())
def test_seeds_to_sow_are_enough_and_one_fewer_is_not(plants: int, tested: int, data: st.DataObject) -> None:
    germinated = data.draw(st.integers(1, tested))
    seeds = seeds_for(plants, germinated, tested, 0.9)
    if seeds is None:
        return
    law = [stats.betabinom(n, germinated + 0.5, tested - germinated + 0.5).sf(plants - 1) for n in (seeds, seeds - 1)]
    assert law[0] >= 0.9 > law[1]


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


def test_insurance_is_said_without_a_target() -> None:
    result = asked(differing(), winters=winters(19, 1))
    worth = result.table[result.table["keep"].isin(["yes", "even"])]["expected"].sum()
    sowings = int(np.ceil(worth / result.fresh["expected"].iloc[0]))
    assert f"should every root be lost in one store, {sowings} plants from seed" in result.summary()
    assert result.plan.empty


def test_lifting_goes_by_bed_and_label_as_one_comes_by() -> None:
    rows = [one | {"bed": "B10" if i % 2 else "B2"} for i, one in enumerate(differing(12, seasons=1))]
    listed = asked(rows, books={"bean": RootBooks(roots={"P03/2020": Root(veto="virus")}, ended={})}).lifting_list()
    assert listed["bed"].tolist() == ["B2"] * 6 + ["B10"] * 6
    assert listed[listed["bed"] == "B2"]["label"].is_monotonic_increasing
    assert set(listed["do"]) == {"choose", "destroy"}
    assert set(listed["begun"]) == {"2020"}


def test_only_what_was_known_by_the_season_counts() -> None:
    rows = differing()
    later = [one | {"season": 2021, "total_g": 5000.0 if one["label"] == "P00" else 10.0, "season_name": "2021"}
             for one in rows if one["season"] == LAST]  # fmt: skip
    assert asked([*rows, *later]).table["label"].tolist() == asked(rows).table["label"].tolist()


def test_a_season_without_plants_says_what_there_is() -> None:
    result = keep_list_of(frame(differing()), 1999)
    assert result.table.empty
    assert "No plant on record lives in season 1999; seasons on record are 2017, 2018, 2019, 2020." in result.findings


def test_several_crops_have_a_list_each_but_not_one_target() -> None:
    rows = [*differing(), *(one | {"crop": "pea", "plant": f"{one['plant']}p"} for one in differing())]
    result = asked(rows)
    assert (result.table["rank"] == 1).sum() == 2
    for given_ in ({"target": 500.0}, {"places": 3}):
        with pytest.raises(AnalysisError, match="name one of bean, pea as the crop"):
            asked(rows, **given_)


@pytest.mark.parametrize(
    ("options", "error", "says"),
    [
        ({"measure": "weight"}, AnalysisError, "choose one of total_g, count, g_per_m2$"),
        ({"measure": 5}, AnalysisError, "5 is no crop of a season"),
        *(({"measure": name}, AnalysisError, "is no crop of a season") for name in MEASURES
          if name not in ("total_g", "count", "g_per_m2")),
        ({"measure": "g_per_m2", "target": 100.0}, AnalysisError, "ask for it in total_g or count"),
        ({"repeatability": 1.5}, AnalysisError, "repeatability 1.5 is not between 0 and 1"),
        ({"repeatability": "high"}, ArgumentError, "repeatability is 'high'"),
        ({"assurance": 1.0}, AnalysisError, "assurance 1.0 is not between 0 and 1"),
        ({"level": 0.0}, AnalysisError, "level 0.0 is not between 0 and 1"),
        ({"places": -1}, AnalysisError, "places -1 is below 0"),
        ({"places": 2.5}, ArgumentError, "places is 2.5"),
        ({"target": -5.0}, ArgumentError, "target is -5.0; give a number above 0"),
        ({"target": float("inf")}, ArgumentError, "target is inf; give a number above 0"),
        ({"level": 10**400}, ArgumentError, "give a number such as 0.9"),
        ({"wintering": 3}, ArgumentError, "wintering is 3"),
    ],
)
def test_what_cannot_be_asked_is_refused(options: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        asked(differing(), **options)


def test_a_season_that_is_no_year_is_refused() -> None:
    with pytest.raises(ArgumentError, match="season"):
        keep_list(None, "autumn")  # type: ignore[arg-type]
