"""Survival of roots and whole lives: groups, boxes, confounding, what is left out, from rows and from a garden."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import Any

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from perennia.analysis.decisions.surviving.lifetimes import kaplan_meier, log_rank
from perennia.analysis.decisions.surviving.root_winters import Winter, share_alive, winters_of
from perennia.analysis.decisions.surviving.shares import CLUSTERED, WILSON, effective_roots, share_of_boxes
from perennia.analysis.decisions.surviving.survival import Survival, survival, survival_of
from perennia.analysis.decisions.surviving.whole_lives import NEVER_UP, NOT_OVER, UNKNOWN_AGE, Life, Lives, lives_of
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import Acquired, AlreadyHere, Died, Lifted, Mulched, Regrew, Removed, Sown, Stored
from tests.analysis.built_source import source_of
from tests.analysis.root_winters_rows import BEAN, stored, winter

NOBODY = Lives((), Counter())


def asked(winters: Sequence[Winter], *by: str, lives: Lives = NOBODY, level: float = 0.95) -> Survival:
    across = "crop" in by
    return survival_of(
        winters, lives, factors=("crop", *(name for name in by or ("wintering",) if name != "crop")), level=level,
        across_crops=across,
    )  # fmt: skip


def row_of(frame: pd.DataFrame, **having: Any) -> pd.Series:
    for name, value in having.items():
        frame = frame[frame[name] == value]
    assert len(frame) == 1, frame
    return frame.iloc[0]


def several(make: Any, prefix: str, alive: int, dead: int, **given: Any) -> list[Winter]:
    return [make(f"{prefix}{i}", "survived" if i < alive else "died", **given) for i in range(alive + dead)]


# ---------------------------------------------------------------------------- shares


def test_roots_that_stood_apart_have_wilsons_interval() -> None:
    found = row_of(asked(several(winter, "A", 9, 3)).table)
    assert (found["n_roots"], found["n_boxes"], found["alive"], found["dead"]) == (12, 12, 9, 3)
    assert (found["low"], found["high"]) == pytest.approx(proportion_confint(9, 12, method="wilson"))
    assert found["method"] == WILSON


def test_one_root_a_box_is_as_good_as_apart_and_a_shared_box_is_one_cluster() -> None:
    alone = [stored(f"A{i}", "survived" if i < 9 else "died", box=f"box {i}") for i in range(12)]
    assert row_of(asked(alone).table)["method"] == WILSON
    # three boxes live, one dies: twelve roots tell little more than four boxes do
    shared = [stored(f"A{i}", "survived" if i < 9 else "died", box=f"box {i // 3}") for i in range(12)]
    found = row_of(asked(shared).table)
    assert (found["n_boxes"], found["share"], found["method"]) == (4, 0.75, CLUSTERED)
    apart = proportion_confint(9, 12, method="wilson")
    assert found["low"] < apart[0]
    assert found["high"] > apart[1]


def test_a_box_of_another_winter_or_site_is_another_box() -> None:
    places: list[dict[str, Any]] = [{}, {}, {"season": 2024}, {"site": "elsewhere"}]
    assert share_alive([stored(f"A{i}", box="X", **place) for i, place in enumerate(places)]).boxes == 3


def test_below_three_boxes_no_interval_is_given() -> None:
    two = [stored(f"A{i}", "survived" if i % 3 else "died", box=f"box {i % 2}") for i in range(12)]
    result = asked(two)
    found = row_of(result.table)
    assert pd.isna(found["low"])
    assert "below 3 boxes" in found["withheld"]
    assert "no interval" in result.findings[0]


def test_effective_roots_by_hand() -> None:
    # Korn and Graubard 1998: roots over the design effect, times the squared ratio of t quantiles. By hand for these
    # six boxes with a quarter each of 10/10 and 0/10: share 48.5/65, variance 6.5/5.5 * 61.11538 / 65^2 = 0.0170953,
    # binomial 0.00291397, design effect 5.86667
    found = effective_roots([(10, 10), (9, 10), (2, 10), (7, 10), (10, 10), (8, 10)])
    assert found == pytest.approx(60 / 5.86667 * (2.000995 / 2.570582) ** 2, rel=1e-5)
    # never fewer than boxes that live or die whole: as many as there are, fewer where they are unlike in size
    assert effective_roots([(3, 3), (3, 3), (0, 3), (2, 3)]) == 4
    assert effective_roots([(3, 3), (5, 5), (4, 4)]) == pytest.approx(12**2 / 50)
    assert share_of_boxes([(3, 3), (3, 3), (3, 3)]).low == pytest.approx(0.025 ** (1 / 3))


def test_what_is_open_or_left_is_no_root_of_the_share() -> None:
    rows = [*several(winter, "A", 3, 1), winter("B", "not regrown"), winter("C", "open"), winter("D", "left")]
    result = asked(rows)
    found = row_of(result.table)
    assert (found["n_roots"], found["dead"], found["not_regrown"], found["open"], found["left"]) == (5, 2, 1, 1, 1)
    assert found["share"] == pytest.approx(0.6)
    assert any("anywhere from 50 % to 67 %" in caution for caution in result.cautions)
    assert any("left out, taken out or divided" in caution for caution in result.cautions)


def test_a_death_within_a_fortnight_is_known_closely() -> None:
    near = winter("A", "died", last_alive_on=date(2023, 2, 20), ended_on=date(2023, 3, 1))
    far = winter("B", "died", last_alive_on=date(2023, 2, 1), ended_on=date(2023, 3, 1))
    never = winter("C", "not regrown", last_alive_on=None)
    assert [item.interval_censored for item in (near, far, never, winter("D"))] == [False, True, True, False]
    assert row_of(asked([near, far, never]).table)["interval_censored"] == 2


def test_beds_stands_boxes_not_named_and_unknown_winterings_are_said() -> None:
    result = asked([
        winter("A", bed="B1"), winter("B", bed="B1"), winter("C", plants=6, plants_after=4), stored("D"),
        winter("H", "died", wintering="ground"), winter("E", wintering="unknown"),
        winter("E", season=2024), stored("F", box="X"), stored("G", box="X"),
    ])  # fmt: skip
    for words in (
        "2 roots wintered in a bed with others", "6 became 4", "1 root-winter stored with no box named",
        "1 root-winter with a wintering that nothing on record shows", "9 decided winters are of 8 plants",
        "1 root-winter with no lifting, storing or mulching on record",
        "2 root-winters shared a box with others",
    ):  # fmt: skip
        assert any(words in caution for caution in result.cautions), words


# ---------------------------------------------------------------------------- differences


def test_two_winterings_of_one_winter_are_tested() -> None:
    result = asked([*several(winter, "A", 9, 1), *several(stored, "B", 3, 7)])
    found = row_of(result.differences)
    assert (found["group"], found["against"], found["strata"]) == ("bare root, frost-free", "ground, mulch", 1)
    # 9/10 - 3/10: Newcombe 1998, method 10
    assert (-found["high"], -found["low"]) == pytest.approx((0.1705, 0.8090), abs=0.00006)
    # Fisher's exact: twice the smaller tail
    assert found["p"] == pytest.approx(2 * 0.009883, abs=2e-5)
    assert found["smallest_p"] < 0.05
    assert "as if randomised" in result.findings[2]


@pytest.mark.parametrize(
    ("other", "named"),
    [
        ({"season": 2024}, "winter"),
        ({"site": "elsewhere"}, "site"),
        ({"cultivar": "White"}, "cultivar"),
        ({"cultivar": "White", "season": 2024}, "winter, cultivar"),
    ],
)
def test_what_the_winterings_share_none_of_is_named_and_nothing_tested(other: dict[str, Any], named: str) -> None:
    result = asked([*several(winter, "A", 9, 1), *several(stored, "B", 3, 7, **other)])
    found = row_of(result.differences)
    assert found["confounded_with"] == named
    assert found["difference"] == pytest.approx(-0.6)
    assert found[["p", "p_holm", "low", "high"]].isna().all()
    assert f"may as well come from {named}" in result.findings[2]


def test_each_shared_alone_but_not_together() -> None:
    rows = [
        *several(winter, "A", 2, 1), *several(winter, "B", 2, 1, season=2024, cultivar="White"),
        *several(stored, "C", 2, 1, cultivar="White"), *several(stored, "D", 2, 1, season=2024),
    ]  # fmt: skip
    found = row_of(asked(rows).differences)
    assert found["confounded_with"] == "winter, site, crop, cultivar taken together"


def test_roots_without_a_partner_are_left_out_of_the_difference() -> None:
    rows = [*several(winter, "A", 3, 2), *several(stored, "B", 4, 1), *several(stored, "C", 0, 9, season=2024)]
    result = asked(rows)
    found = row_of(result.differences)
    assert (found["n_group"], found["n_against"], found["alone"]) == (5, 5, 9)
    assert found["difference"] == pytest.approx(0.2)
    assert any("leaves out 9 roots" in caution for caution in result.cautions)


def test_boxes_are_exchanged_whole() -> None:
    """Three boxes an arm, the roots in each alike: 30 roots tell as much as 6 boxes."""
    rows = [
        stored(f"{place}{box}{i}", "survived" if place == "A" else "died", box=f"{place}{box}",
               wintering=f"bare root, {'heated' if place == 'A' else 'none'}")
        for place in "AB" for box in range(3) for i in range(5)
    ]  # fmt: skip
    found = row_of(asked(rows).differences)
    assert (found["boxes_group"], found["boxes_against"]) == (3, 3)
    assert found["p"] == pytest.approx(2 / 20)
    assert found["smallest_p"] == pytest.approx(2 / 20)
    assert pd.notna(found["low"])


def test_without_an_interval_there_is_no_p() -> None:
    """Two boxes an arm in each of eight winters: p would be 0.000001, and nothing to say how large the difference."""
    rows = [
        stored(f"{place}{box}{i}", "survived" if place == "A" else "died", box=f"{place}{box}", season=season,
               wintering=f"bare root, {'heated' if place == 'A' else 'none'}")
        for season in range(2015, 2023) for place in "AB" for box in range(2) for i in range(4)
    ]  # fmt: skip
    result = asked(rows)
    found = row_of(result.differences)
    assert (found["strata"], found["difference"], found["smallest_p"] < 0.05) == (8, 1.0, True)
    assert pd.isna(found["low"])
    assert pd.isna(found["p"])
    assert pd.isna(found["p_holm"])
    assert any("no interval and no p" in finding for finding in result.findings)


def test_a_box_that_held_both_groups_is_a_stratum() -> None:
    rows = [
        stored(f"{colour}{i}", "survived" if (colour == "Red") == (i < 4) else "died", box="X", cultivar=colour)
        for colour in ("Red", "White") for i in range(5)
    ]  # fmt: skip
    found = row_of(asked(rows, "cultivar").differences)
    # 4 of 5 against 1 of 5 roots in one box: hypergeometric, 2 * (25 + 1) / 252
    assert found["strata"] == 1
    assert pd.isna(found["confounded_with"])
    assert found["p"] == pytest.approx(2 * 26 / 252)
    assert found["difference"] == pytest.approx(0.6)


def test_one_winter_bed_or_box_is_one_of_its_kind() -> None:
    rows = [*several(winter, "A", 9, 1), *several(winter, "B", 3, 7, season=2024)]
    assert row_of(asked(rows, "winter").differences)["confounded_with"] == "winter"
    beds = [*several(winter, "A", 9, 1, bed="B1"), *several(winter, "B", 3, 7, bed="B2")]
    assert row_of(asked(beds, "bed").differences)["confounded_with"] == "bed"


def test_crops_are_compared_only_where_asked() -> None:
    rows = [*several(winter, "A", 9, 1), *several(winter, "B", 3, 7, crop="Rheum x hybridum")]
    assert asked(rows).differences.empty
    assert row_of(asked(rows, "crop").differences)["p"] < 0.05


def test_what_is_not_known_is_no_group_to_compare() -> None:
    rows = [*several(winter, "A", 9, 1), *several(winter, "B", 3, 7, wintering="unknown")]
    assert len(asked(rows).table) == 2
    assert asked(rows).differences.empty
    rows = [*several(winter, "A", 9, 1), *several(winter, "B", 3, 7, cultivar=None)]
    assert asked(rows, "cultivar").differences.empty


def test_many_pairs_are_adjusted_for() -> None:
    rows = [row for i, kind in enumerate(("none", "mulch", "fleece"))
            for row in several(winter, kind, 3 * i, 8 - 3 * i, wintering=f"ground, {kind}")]  # fmt: skip
    result = asked(rows)
    peer = multipletests(result.differences["p"].astype(float), method="holm")[1]
    assert result.differences["p_holm"].tolist() == pytest.approx(peer)
    assert (result.differences["p_holm"] > result.differences["p"]).any()
    assert any("p_holm" in caution for caution in result.cautions)


def test_groups_apart_in_two_things_at_once_are_not_compared() -> None:
    rows = [row for make in (winter, stored) for colour in ("Red", "White")
            for row in several(make, f"{make.__name__}{colour}", 6, 4, cultivar=colour)]  # fmt: skip
    result = asked(rows, "wintering", "cultivar")
    assert len(result.table) == 4
    assert len(result.differences) == 4
    for _, found in result.differences.iterrows():
        one, other = found["group"].rsplit(", ", 1), found["against"].rsplit(", ", 1)
        assert (one[0] == other[0]) != (one[1] == other[1])
    lives = [life(f"{a}{b}{i}", 2.5 + i, True, cultivar=a, raised_from=b) for a in ("Red", "White")
             for b in ("seed", "cutting") for i in range(3)]  # fmt: skip
    assert len(asked([], "cultivar", "raised_from", lives=Lives(tuple(lives), Counter())).tests) == 4


def test_crops_apart_in_cultivar_too_are_still_compared() -> None:
    rows = [*several(winter, "A", 9, 1), *several(winter, "B", 3, 7, crop="Rheum x hybridum", cultivar="Green")]
    result = asked(rows, "crop", "cultivar")
    assert row_of(result.differences)["p"] < 0.05
    assert sum("Rheum x hybridum, Green" in finding and BEAN in finding for finding in result.findings) == 1


def test_of_hundreds_of_pairs_the_first_are_told() -> None:
    result = asked([winter(f"A{i}", bed=f"bed {i:02}") for i in range(20)], "bed")
    assert len(result.differences) == 190
    assert len(result.findings) == 20 + 15 + 1
    assert "other 175 pairs" in result.findings[-1]


def test_plant_seasons_are_numbers_in_order() -> None:
    rows = [winter(f"A{i}", plant_season=number) for i, number in enumerate((10, 9, None))]
    assert asked(rows, "plant_season").table["plant_season"].tolist() == [pd.NA, 9, 10]


# ---------------------------------------------------------------------------- whole lives


def life(plant: str, time: float, died: bool, **given: Any) -> Life:
    usual: dict[str, Any] = {
        "crop": BEAN, "cultivar": "Red", "raised_from": "seed", "site": "plot", "season": 2020, "season_name": "2020",
        "winterings": frozenset({"ground, mulch"}), "entry": 0.0,
    }  # fmt: skip
    return Life(**(usual | {"plant": plant, "time": time, "died": died} | given))


def test_lives_are_counted_to_the_end_of_what_is_over() -> None:
    """Cases by hand: the books end on 1 July 2023, growing years are calendar years, regrowth shows by 31 May."""
    plants: list[dict[str, Any]] = []
    seasons: list[dict[str, Any]] = []
    winters: list[Winter] = []

    def plant(name: str, first: int | None, *outcomes: str, began: int = 2021, grew: bool = True, **given: Any) -> None:
        usual = {"plant": name, "crop": BEAN, "cultivar": "Red", "origin": "seed", "state": "growing", "site": "plot",
                 "season_starts": "01-01", "ended_on": None, "ended_how": None}  # fmt: skip
        plants.append(usual | given)
        seasons.append({"plant": name, "season": began, "season_name": str(began), "plant_season": first, "grew": grew})
        winters.extend(winter(name, outcome, 2022 + i) for i, outcome in enumerate(outcomes))

    plant("running", 1, "survived", "survived")
    plant("died in its second winter", 1, "survived", "died")
    plant("never showed", 1, "not regrown")
    plant("open", 1, "open")
    plant("composted in its first autumn", 1, ended_on=date(2021, 10, 1), ended_how="removed")
    plant("died in its first summer", 1, ended_on=date(2021, 7, 1), ended_how="died")
    plant("died this summer", 1, "survived", "survived", ended_on=date(2023, 6, 1), ended_how="died")
    plant("left in the winter", 1, "left", ended_on=date(2022, 2, 1), ended_how="removed")
    plant("came in its fourth season", 4, "survived", "not regrown", origin="bought root")
    plant("came, age unknown", None, "survived")
    plant("never up", 1, state="sown", grew=False)
    plant("sown and picked this summer", 1, state="sown", began=2023)
    found = lives_of(plants, seasons, winters, date(2023, 7, 1))
    assert {one.plant: (one.entry, one.time, one.died) for one in found.lives} == {
        "running": (0, 2.5, False), "died in its second winter": (0, 2.5, True), "never showed": (0, 1.5, True),
        "open": (0, 1, False), "composted in its first autumn": (0, 1, False), "died in its first summer": (0, 1, True),
        "died this summer": (0, 2.5, False), "left in the winter": (0, 1, False),
        "came in its fourth season": (3.5, 5.5, True),
    }  # fmt: skip
    assert found.left_out == Counter({(BEAN, UNKNOWN_AGE): 1, (BEAN, NEVER_UP): 1, (BEAN, NOT_OVER): 1})
    # in April the second winter's dead are known and its living are not
    april = {one.plant: (one.time, one.died) for one in lives_of(plants, seasons, winters, date(2023, 4, 1)).lives}
    assert april["died in its second winter"] == april["running"] == (2, False)
    early = lives_of(plants, seasons, winters, date(2021, 12, 31))
    assert early.lives == ()


def test_curves_medians_and_tests_of_groups() -> None:
    lives = [life(f"A{i}", 1.5 + i, i < 3) for i in range(4)]
    lives += [life(f"B{i}", 2.5 + i, i < 1, raised_from="cutting") for i in range(4)]
    lives += [life("C", 6.5, True, entry=3.5, raised_from="cutting")]
    result = asked([], "raised_from", lives=Lives(tuple(lives), Counter({(BEAN, "why not"): 2})))
    steps = kaplan_meier([one.time for one in lives[:4]], [one.died for one in lives[:4]])
    seeds = result.lives[result.lives["raised_from"] == "seed"]
    assert seeds["share"].tolist() == pytest.approx([step.share for step in steps])
    assert seeds["plant_season"].tolist() == [1, 2, 3, 4]
    assert set(seeds["part"]) == {"winter after"}
    assert seeds["hazard"].tolist() == pytest.approx([1 / 4, 1 / 3, 1 / 2, 0])
    medians = result.medians.set_index("raised_from")
    assert medians.loc["seed", "median"] == 2.5
    assert medians.loc["cutting", "late"] == 1
    found = row_of(result.tests)
    peer = log_rank(
        [one.time for one in lives], [one.died for one in lives], [one.raised_from or "" for one in lives],
        entry=[one.entry for one in lives],
    )  # fmt: skip
    assert peer is not None
    assert (found["chi2"], found["p"], found["df"]) == pytest.approx((peer.chi2, peer.p, 1))
    for words in ("leave out 2 plants: why not", "delayed entry", "fewer than 10 deaths", "under 5 plants"):
        assert any(words in caution for caution in result.cautions), words


@pytest.mark.parametrize(
    ("other", "named"),
    [
        ({"season": 2021, "season_name": "2021"}, "season begun"),
        ({"site": "elsewhere"}, "site"),
        ({"winterings": frozenset({"pot, heated"})}, "wintering"),
    ],
)
def test_lives_that_share_nothing_are_not_tested(other: dict[str, Any], named: str) -> None:
    lives = [life(f"A{i}", 1.5 + i, True) for i in range(5)]
    lives += [life(f"B{i}", 2.5 + i, True, raised_from="cutting", **other) for i in range(5)]
    result = asked([], "raised_from", lives=Lives(tuple(lives), Counter()))
    found = row_of(result.tests)
    assert found["confounded_with"] == named
    assert pd.isna(found["p"])
    assert named in result.findings[-1]


def test_without_a_death_there_is_no_test_and_no_median() -> None:
    lives = [life(f"A{i}", 2.5, False, raised_from=kind) for i, kind in enumerate(("seed", "cutting") * 3)]
    result = asked([], "raised_from", lives=Lives(tuple(lives), Counter()))
    assert pd.isna(row_of(result.tests)["p"])
    assert "no test" in result.findings[-1]
    assert result.medians["median"].isna().all()
    assert result.lives["low"].isna().all()


# ---------------------------------------------------------------------------- laws

OUTCOMES = st.sampled_from(["survived", "died", "not regrown", "left", "open"])
KINDS = st.tuples(OUTCOMES, st.integers(2022, 2024), st.sampled_from(["Red", "White"]), st.sampled_from("-XYZ"))
WINTERS = st.lists(KINDS, max_size=30).map(
    lambda kinds: [
        winter(f"P{i}", outcome, season, cultivar=colour) if box == "-"
        else stored(f"P{i}", outcome, box, season=season, cultivar=colour)
        for i, (outcome, season, colour, box) in enumerate(kinds)
    ]
)  # fmt: skip


@given(WINTERS, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(rows: list[Winter], random: Any) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)
    one, other = asked(rows, "wintering", "cultivar"), asked(shuffled, "wintering", "cultivar")
    pd.testing.assert_frame_equal(one.table, other.table)
    pd.testing.assert_frame_equal(one.differences, other.differences)
    assert one.summary() == other.summary()


@given(WINTERS, st.sampled_from([0.8, 0.95, 0.99]))
def test_a_share_lies_between_its_ends_and_a_higher_level_is_wider(rows: list[Winter], level: float) -> None:
    for _, found in asked(rows, level=level).table.iterrows():
        if pd.notna(found["low"]):
            assert -1e-12 <= found["low"] <= found["share"] + 1e-9
            assert found["share"] - 1e-9 <= found["high"] <= 1 + 1e-12
    narrow, wide = share_alive(rows, 0.7), share_alive(rows, level)
    if narrow.low is not None and narrow.high is not None and wide.low is not None and wide.high is not None:
        assert wide.low <= narrow.low + 1e-9
        assert wide.high >= narrow.high - 1e-9


@given(WINTERS, st.sampled_from(["open", "left"]))
def test_a_root_not_decided_changes_nothing_but_its_count(rows: list[Winter], outcome: str) -> None:
    rows = [winter("first"), *rows]
    before, after = asked(rows), asked([*rows, winter("new", outcome)])
    changed = before.table.compare(after.table).columns.get_level_values(0)
    assert set(changed) == {outcome}
    pd.testing.assert_frame_equal(before.differences, after.differences)


# ---------------------------------------------------------------------------- a garden


def test_a_garden_is_asked() -> None:
    records = [Noted(date(2024, 2, 1), bed="B1", what="over")]
    for i in range(6):
        records += [Sown(f"A{i}", "2022-05-01", crop=BEAN, cultivar="Red", bed="B1"),
                    Picked(f"A{i}", "2022-08-01", grams=500 + 10 * i)]  # fmt: skip
    for i in range(3):
        records += [Mulched(f"A{i}", "2022-11-01"), Lifted(f"A{i + 3}", "2022-11-01"),
                    Stored(f"A{i + 3}", "2022-11-01", place="bare root", protection="frost-free", box="X")]  # fmt: skip
    records += [Regrew("A0", "2023-05-10"), Regrew("A3", "2023-05-10"), Died("A4", "2023-03-01"),
                Removed("A5", "2023-02-01"), Removed("A1", "2022-12-01"), AlreadyHere("B", "2022-05-01", crop=BEAN),
                Acquired("C", "2022-05-01", crop=BEAN, kind="plant", bed="B1"), Removed("C", "2022-10-01"),
                Sown("R", "2022-05-01", crop="Rheum x hybridum", bed="B1")]  # fmt: skip
    with source_of(*records) as source:
        result = survival(source)
        counts = result.table.set_index("wintering")[["alive", "dead", "not_regrown", "open", "left"]]
        assert {str(name): tuple(found) for name, found in counts.iterrows()} == {
            "bare root, frost-free": (1, 1, 0, 0, 1), "ground, mulch": (1, 1, 1, 0, 1), "ground": (0, 0, 0, 1, 0),
            # the winter of the two that regrew still runs; nobody wrote down where the stored one was replanted
            "unknown": (0, 1, 1, 1, 0),
        }  # fmt: skip
        assert result.n == 5
        assert result.medians.set_index("crop").loc[BEAN, ["n", "deaths"]].tolist() == [7, 2]
        assert result.by == ("wintering",)
        assert survival(source, season=2024).table["open"].tolist() == [1, 1]
        assert survival(source, crop="Rheum x hybridum").n == 0
        assert len(winters_of(source, BEAN)) == 9
        assert "leading into 1999 is on record" in survival(source, season=1999).findings[0]
        assert result.summary().startswith(f"{BEAN}, bare root, frost-free: 1 of 2 roots in 1 box-winter came through")


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"by": ("colour",)}, AnalysisError, "wintering, winter, crop"),
        ({"by": ("bed", "bed")}, AnalysisError, "at most once"),
        ({"by": 3}, ArgumentError, "by is 3"),
        ({"level": 95}, AnalysisError, "between 0 and 1"),
        ({"level": True}, AnalysisError, "between 0 and 1"),
        ({"crop": 7}, ArgumentError, "crop"),
        ({"season": "2023"}, ArgumentError, "season"),
    ],
)
def test_what_cannot_be_asked_is_refused(options: dict[str, Any], error: type[Exception], words: str) -> None:
    with source_of() as source, pytest.raises(error, match=words):
        survival(source, **options)


def test_nothing_on_record_is_said() -> None:
    with source_of() as source:
        result = survival(source)
    assert result.table.empty
    assert result.lives.empty
    assert result.findings == ("No root that entered a winter is on record for what was asked.",)


def test_lifetimes_that_cannot_be_are_refused() -> None:
    for arguments, words in (
        (([1.0, float("nan")], [True, True]), "finite"), (([1.0], [True, False]), "one time"),
    ):  # fmt: skip
        with pytest.raises(AnalysisError, match=words):
            kaplan_meier(*arguments)
    with pytest.raises(AnalysisError, match="leave it out"):
        kaplan_meier([2.0], [True], entry=[2.0])
    with pytest.raises(AnalysisError, match="two groups"):
        log_rank([1.0, 2.0], [True, True], ["a", "a"])
    with pytest.raises(AnalysisError, match="one group and one stratum"):
        log_rank([1.0, 2.0], [True, True], ["a"])
    with pytest.raises(AnalysisError, match="from none to all"):
        share_of_boxes([(3, 2)])
