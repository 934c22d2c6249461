"""Planning a trial: units, layout by lot, what it can tell apart, what is refused, paper and records."""

from __future__ import annotations

import csv
import statistics
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

import perennia as pn
from perennia.analysis.decisions.trials import power, trial_layout
from perennia.analysis.decisions.trials.power import PlannedTest, Truth
from perennia.analysis.decisions.trials.spread import residual_spread
from perennia.analysis.decisions.trials.trial import COLUMNS, TrialPlan, plan_trial
from perennia.analysis.decisions.trials.units_needed import sets_needed
from perennia.analysis.measures import MEASURES
from perennia.analysis.units import rows_of, units_of
from perennia.errors import PerenniaError
from perennia.garden import Garden
from tests.analysis.built_source import BEAN, OVER, BuiltSource, picked, source_of, sown
from tests.analysis.seasons_frame import arms, frame

CROPS = {"B1": [300.0, 420.0, 510.0], "B2": [700.0, 640.0], "B3": [555.0]}
RANKS = PlannedTest("ranks", 0.05)


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    """Six beans of one season in three beds."""
    records: list[pn.Record] = []
    for bed, crops in CROPS.items():
        for number, grams in enumerate(crops):
            records += [sown(f"{bed}{number}", bed=bed), picked(f"{bed}{number}", 80, grams)]
    with source_of(*records, OVER) as made:
        yield made


def planned(source: Any, **given: Any) -> TrialPlan:
    usual: dict[str, Any] = {"crop": BEAN, "beds": {"B1": 8, "B2": 8}, "seed": 7, "spread": 100.0}
    return plan_trial(source, **(usual | given))


beds = st.dictionaries(st.sampled_from(["north", "south", "east"]), st.integers(2, 12), min_size=1)
shares = st.sampled_from([(1, 1), (1, 2), (2, 1), (3, 2)])


@given(beds, shares, st.integers(1, 3) | st.none(), st.integers(0, 2**40), st.data())
@settings(max_examples=60)
def test_every_block_holds_the_arms_in_proportion_and_every_place_is_there_once(
    beds: dict[str, int], allocation: tuple[int, int], sets_a_block: int | None, seed: int, data: st.DataObject
) -> None:
    beds = {bed: max(places, sum(allocation)) for bed, places in beds.items()}
    size = None if sets_a_block is None else sets_a_block * sum(allocation)
    blocks = trial_layout.blocks_of(beds, allocation, size)
    sets = data.draw(st.integers(1, sum(block.sets for block in blocks)))
    places = trial_layout.lay_out_places(beds, blocks, sets, ("old", "new"), allocation, seed)
    assert [(place.bed, place.place) for place in places] == [
        (bed, number) for bed, count in beds.items() for number in range(1, count + 1)
    ]
    by_block: dict[str, Counter[str]] = {}
    for place in places:
        assert (place.arm is None) == (place.block is None)
        if place.block is not None and place.arm is not None:
            by_block.setdefault(place.block, Counter())[place.arm] += 1
    assert all(found["old"] * allocation[1] == found["new"] * allocation[0] > 0 for found in by_block.values())
    assert all(size is None or found.total() <= size for found in by_block.values())
    assert sum(found["old"] for found in by_block.values()) == sets * allocation[0]
    assert {len({place.bed for place in places if place.block == block}) for block in by_block} == {1}
    held = Counter(place.bed for place in places if place.arm is not None)
    free = [held[bed] for bed in beds if beds[bed] - held[bed] >= sum(allocation)]
    assert max(held.values()) - min(free, default=max(held.values())) <= sum(allocation), "beds are filled unevenly"


@given(st.integers(0, 2**40))
@settings(max_examples=20)
def test_one_seed_is_one_layout_and_another_is_mostly_another(seed: int) -> None:
    beds = {"north": 10, "south": 10}
    blocks = trial_layout.blocks_of(beds, (1, 1), None)
    once, again, *others = (
        trial_layout.lay_out_places(beds, blocks, 10, ("a", "b"), (1, 1), number)
        for number in (seed, seed, *range(seed + 1, seed + 6))
    )
    assert once == again
    assert sum(other != once for other in others) >= 4


def test_the_lot_is_that_of_the_raw_numbers_and_every_order_comes_as_often() -> None:
    """Written down once: a plan must come out the same in years to come, whatever numpy then is."""
    blocks = trial_layout.blocks_of({"n": 6}, (1, 1), None)
    words = [
        "".join(str(place.arm) for place in trial_layout.lay_out_places({"n": 6}, blocks, 3, ("a", "b"), (1, 1), seed))
        for seed in range(2000)
    ]
    assert words[:4] == ["baaabb", "bbabaa", "aababb", "aabbab"]
    for seed in range(4):
        numbers = np.random.PCG64(np.random.SeedSequence([seed, 0])).random_raw(6).tolist()
        assert words[seed] == "".join("a" if number in sorted(numbers)[:3] else "b" for number in numbers)
    counts = Counter(words)
    assert len(counts) == 20
    # 100 of each expected, 6 standard errors
    assert max(abs(count - 100) for count in counts.values()) < 60


def test_labels_are_drawn_to_the_places_of_their_arm_and_leave_the_arms_where_they_were(source: BuiltSource) -> None:
    labels = {"overwintered": [f"R{i}" for i in range(9)], "fresh": [f"S{i}" for i in range(8)]}
    plain, named = planned(source), planned(source, labels=labels)
    assert plain.table["arm"].tolist() == named.table["arm"].tolist()
    assert plain.table["label"].isna().all()
    taken = {arm: named.table.loc[named.table["arm"] == arm, "label"].tolist() for arm in labels}
    assert len(set(taken["overwintered"])) == 8 < 9
    assert set(taken["fresh"]) == set(labels["fresh"])
    assert set(taken["overwintered"]) < set(labels["overwintered"])
    assert taken["fresh"] != labels["fresh"]
    shuffled = {arm: names[::-1] for arm, names in labels.items()}
    assert planned(source, labels=shuffled).table.equals(named.table), "the order of the list counts"
    assert not planned(source, labels=labels, seed=8).table.equals(named.table)


def test_power_agrees_with_the_t_test_where_values_are_normal() -> None:
    from statsmodels.stats.power import TTestIndPower

    found = power.simulated_power(((12, 12),), 1.2, Truth("normal", 1.0), PlannedTest("values", 0.05))
    assert found.power == pytest.approx(TTestIndPower().power(1.2, 12, 0.05), abs=0.03)
    assert found.error == pytest.approx((found.power * (1 - found.power) / found.simulations) ** 0.5)


@pytest.mark.parametrize("scores", ["ranks", "values"])
@pytest.mark.parametrize("residuals", ["normal", "lognormal", "heavy"])
def test_arms_alike_are_told_apart_no_oftener_than_the_test_allows(scores: Any, residuals: Any) -> None:
    found = power.simulated_power(((4, 4), (3, 3)), 0.0, Truth(residuals, 1.0, 4.0), PlannedTest(scores, 0.05))
    assert 0.01 < found.power <= 0.05 + 3 * found.error


def test_three_against_three_never_suffices_however_large_the_difference() -> None:
    sizes = ((3, 3),)
    assert power.simulated_power(sizes, 50.0, Truth("normal", 1.0), RANKS).power == 0
    assert power.smallest_difference(sizes, 0.8, Truth("normal", 1.0), RANKS) is None
    needed = sets_needed(lambda sets: ((sets, sets),), (1, 1), 50.0, 0.8, Truth("normal", 1.0), RANKS)
    assert needed is not None
    assert needed.sets == 4
    # at 10 % three would do by its alpha, but 5 % is what a grower goes by
    wide = sets_needed(lambda sets: ((sets, sets),), (1, 1), 50.0, 0.8, Truth("normal", 1.0), PlannedTest("ranks", 0.1))
    assert wide is not None
    assert wide.sets == 4


@pytest.mark.parametrize("effect", [0.45, 1.0, 2.0])
def test_the_number_needed_is_the_smallest_that_does(effect: float) -> None:
    truth = Truth("normal", 1.0)
    needed = sets_needed(lambda sets: ((sets, sets),), (1, 1), effect, 0.8, truth, RANKS)
    assert needed is not None
    assert needed.power.power >= 0.8
    assert power.simulated_power(((needed.sets - 1,) * 2,), effect, truth, RANKS).power < 0.8


def test_detectable_difference_and_margin_have_the_power_asked_for() -> None:
    sizes, truth = ((6, 6), (5, 5)), Truth("normal", 2.0)
    difference = power.smallest_difference(sizes, 0.8, truth, RANKS)
    margin = power.smallest_margin(sizes, 0.8, truth, RANKS)
    assert difference is not None
    assert margin is not None
    assert power.simulated_power(sizes, difference, truth, RANKS).power == pytest.approx(0.8, abs=0.005)
    assert power.equivalence_power(sizes, margin, truth, RANKS).power == pytest.approx(0.8, abs=0.005)
    assert power.equivalence_power(sizes, margin / 2, truth, RANKS).power < 0.5


def test_skewed_values_have_the_mean_that_was_given() -> None:
    """A margin is in grams: were values drawn to another mean, it would be another share of it."""
    mean, margin, n = 1.0, 1.2, 9
    found = power.equivalence_power(((n, n),), margin, Truth("lognormal", 1.0, mean), RANKS)
    random = np.random.default_rng(5)
    spread = np.log(2) ** 0.5
    x, y = random.lognormal(-(spread**2) / 2, spread, (2, 2000, n))
    assert x.mean() == pytest.approx(mean, abs=0.03)
    ahead, behind = (
        stats.mannwhitneyu(x + shift, y, axis=1, method="exact", alternative=side).pvalue <= 0.05
        for shift, side in ((margin, "greater"), (-margin, "less"))
    )
    assert found.power == pytest.approx((ahead & behind).mean(), abs=0.045)


def test_the_spread_on_record_is_that_within_bed_and_stock(source: BuiltSource) -> None:
    plan = planned(source, spread=None)
    rest = [value - statistics.fmean(crops) for crops in CROPS.values() for value in crops]
    sd = (sum(value**2 for value in rest) / 3) ** 0.5
    middle = plan.outlook.iloc[1]
    assert list(plan.outlook["spread"]) == ["low end", "estimate", "high end"]
    assert middle["sd"] == pytest.approx(sd)
    # chi-square with 3 degrees of freedom, 2.5 and 97.5 % points 0.2158 and 9.3484 (standard tables)
    assert plan.outlook["sd"][0] == pytest.approx(sd * (3 / 9.3484) ** 0.5, rel=1e-4)
    assert plan.outlook["sd"][2] == pytest.approx(sd * (3 / 0.2158) ** 0.5, rel=1e-3)
    assert "from 5 plant seasons on record in 2 groups" in plan.summary()
    assert "rests on 3 degrees of freedom" in plan.summary()


def test_stands_are_left_out_of_the_spread_and_counted() -> None:
    rows = arms([900.0, 1200.0], [500.0, 800.0])
    rows[0] |= {"plants": 3}
    found = residual_spread(units_of(rows_of(frame(rows)), MEASURES["total_g"]), "fresh", 0.95)
    assert found is not None
    assert (found.left_out, found.n, found.df, found.mean) == (1, 2, 1, 650.0)


def test_a_ratio_is_of_the_mean_on_record_or_as_given(source: BuiltSource) -> None:
    mean = statistics.fmean(value for crops in CROPS.values() for value in crops)
    assert planned(source, ratio=1.2).outlook["difference"][0] == pytest.approx(0.2 * mean)
    assert planned(source, ratio=1.2, mean=400.0).outlook["difference"][0] == pytest.approx(80)


def test_what_the_beds_cannot_hold_is_said_with_what_they_can_show(source: BuiltSource) -> None:
    plan = planned(source, difference=80.0, beds={"B1": 8})
    row = plan.outlook.iloc[0]
    assert plan.units_needed is not None
    assert plan.units_needed == row["needed_arm"] > row["n_arm"] == 4
    assert row["smallest_p"] == pytest.approx(2 / 70)
    assert row["power"] < 0.5
    assert row["detectable"] > 80
    assert row["margin"] > row["detectable"] / 2
    text = plan.summary()
    for part in (
        "The places and labels at hand hold 4 and 4", "It tells apart differences from", "no sign that the arms are",
        "to be alike within", "smallest p this layout could give 0.0286", "as good as that",
    ):  # fmt: skip
        assert part in text


def test_a_layout_that_cannot_reach_5_percent_says_so(source: BuiltSource) -> None:
    text = planned(source, difference=500.0, beds={"B1": 6}).summary()
    assert "cannot reach 5 % whatever the crop" in text
    assert "No difference, however large, would be told apart" in text


def test_no_more_places_are_taken_than_needed_and_units_overrule_it(source: BuiltSource) -> None:
    plan = planned(source, difference=300.0, beds={"B1": 20, "B2": 20})
    assert plan.n == 2 * (plan.units_needed or 0) < 40
    assert plan.table["arm"].isna().sum() == 40 - plan.n
    held = plan.table[plan.table["arm"].notna()]["bed"].value_counts()
    assert held.max() - held.min() <= 2
    assert planned(source, difference=300.0, beds={"B1": 20, "B2": 20}, units=9).n == 18


def test_unequal_arms(source: BuiltSource) -> None:
    plan = planned(source, allocation=(2, 4), beds={"B1": 9, "B2": 7}, difference=200.0)
    counts = plan.table["arm"].value_counts()
    assert counts["fresh"] == 2 * counts["overwintered"]
    assert plan.outlook["needed_against"][0] == 2 * plan.outlook["needed_arm"][0]
    assert plan.allocation == (1, 2)


def test_days_are_planned_in_days_and_have_no_ratio(source: BuiltSource) -> None:
    plan = planned(source, measure="first_pick", difference=-7.0, spread=4.0)
    assert "a difference of -7 days" in plan.summary()
    with pytest.raises(PerenniaError, match="first_pick is a date, which has no ratio"):
        planned(source, measure="first_pick", ratio=1.2, spread=4.0)


def test_every_option_changes_the_answer(source: BuiltSource) -> None:
    usual = planned(source, difference=100.0).outlook.iloc[0]
    for option in (
        {"power": 0.9}, {"level": 0.99}, {"residuals": "heavy"}, {"statistic": "values"}, {"spread": 130.0},
        {"block_size": 2},
    ):  # fmt: skip
        other = planned(source, **({"difference": 100.0} | option)).outlook.iloc[0]
        assert other["detectable"] != usual["detectable"], option


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"beds": {"B1": 8, "B2": 1}}, "bed B2 has 1 of the 2 places that both arms need: it would hold one arm only"),
        ({"beds": {}}, "give each bed with its places"),
        ({"arms": ("fresh", "fresh")}, "two different names"),
        ({"difference": 0.0}, "which is not 0"),
        ({"difference": float("nan")}, "which is not 0"),
        ({"difference": 10.0, "ratio": 1.2}, "difference and ratio at once"),
        ({"ratio": 1}, "a ratio of 1 is no difference"),
        ({"power": 1.0}, "0.8 is usual"),
        ({"level": 1.2}, "0.95 is usual"),
        ({"spread": 0}, "spread is 0; give a number above 0"),
        ({"seed": -1}, "a whole number from 0 on"),
        ({"seed": "x"}, "seed is 'x'"),
        ({"residuals": "flat"}, "choose one of normal"),
        ({"statistic": "sums"}, "unknown statistic"),
        ({"block_size": 3}, "multiple of 2"),
        ({"allocation": (1, 0)}, "whole numbers from 1 to 20"),
        ({"units": 9}, "allow 8 plants of overwintered"),
        ({"labels": {"old": ["R1"]}}, "give lists by arm"),
        ({"labels": {"fresh": ["S1", "S1"]}}, "'S1' is no label, or stands among the labels twice"),
        ({"labels": {"fresh": []}}, "do not fill one place of each arm"),
        ({"spread": 10**400}, "give a number above 0"),
        ({"difference": 10**400}, "which is not 0"),
        ({"power": 10**400}, "0.8 is usual"),
        ({"residuals": []}, "choose one of normal"),
        ({"name": "a/b"}, "without / or comma"),
        ({"crop": "Rheum x hybridum", "spread": None}, "give the spread, the standard deviation"),
        ({"crop": "Rheum x hybridum", "ratio": 1.3}, "give mean=, or difference="),
        ({"residuals": "lognormal", "difference": -900.0}, "lognormal values need means above 0 in both arms"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_told(source: BuiltSource, given: dict[str, Any], says: str) -> None:
    with pytest.raises(PerenniaError) as told:
        planned(source, **given)
    assert says in str(told.value)


def test_a_difference_beyond_all_measure_is_planned_for(source: BuiltSource) -> None:
    assert planned(source, difference=1e300).outlook["power"].iloc[0] == 1.0


def test_a_difference_too_small_for_any_garden(source: BuiltSource) -> None:
    plan = planned(source, difference=1.0)
    assert plan.units_needed is None
    assert "not even 1000 plants an arm would do" in plan.summary()
    assert plan.n == 16


def test_paper_can_be_read_and_runs_nothing(source: BuiltSource, tmp_path: Path) -> None:
    labels = {"overwintered": ["=1+1", "<b>&", "@x"], "fresh": ["S1", "S2", "S3"]}
    plan = planned(source, labels=labels, beds={"B1": 7, "<i> & co": 4}, name="stock <1>")
    path = plan.to_csv(tmp_path / "plan.csv")
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == list(COLUMNS)
    assert len(rows) == 11
    assert {row["label"] for row in rows} >= {"'=1+1", "'@x", "<b>&"}
    with pytest.raises(PerenniaError, match="is there already"):
        plan.to_csv(path)
    drawn = ElementTree.fromstring(plan.drawing())
    words = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert {"Trial stock <1>", "Bed <i> & co", "=1+1", "<b>&", "Block 1", "left over"} <= set(words)
    assert Counter(words)["A"] == Counter(words)["B"] == 4, "three places and the legend each"
    hatched = [box for box in drawn.iter("{http://www.w3.org/2000/svg}rect") if box.get("fill") == "url(#hatch)"]
    assert len(hatched) == 4, "the second arm is told by its pattern too"
    assert "href" not in plan.drawing()
    assert "<b>" not in plan.drawing()
    for part in ("A = overwintered", "B = fresh", "bed B1", "block 1: 1 ", "left over: "):
        assert part in plan.text()


def test_a_plan_is_recorded_once_the_labels_are_known(tmp_path: Path) -> None:
    with Garden.create(tmp_path / "plot") as garden:
        garden.record(pn.Site("Home", latitude=48.0), pn.Bed("B1", "Home"))
        plan = planned(garden, beds={"B1": 5}, name="stock", arms=("wide", "close"))
        assert "Not on record yet" not in plan.summary()
        with pytest.raises(PerenniaError, match="no label is known for the plants at B1 1, B1 2, B1 3, B1 4;"):
            plan.records("2023-05-02")
        with pytest.raises(PerenniaError, match="no plant at B1 5"):
            plan.labelled({("B1", 5): "P5"})
        with pytest.raises(PerenniaError, match="P1 would stand in two places"):
            plan.labelled({("B1", 1): "P1", ("B1", 2): "P1"})
        named = plan.labelled({("B1", place): f"P{place}" for place in range(1, 5)})
        garden.record(*(sown(f"P{place}") for place in range(1, 5)), *named.records("2023-05-02"))
        rows = rows_of(garden.sql("select * from trial_arms order by label"))
        assert [row["arm"] for row in rows] == plan.table["arm"].tolist()[:4]
        assert {(row["trial"], row["block"], row["by_lot"], row["season"]) for row in rows} == {
            ("stock", "1", True, 2023)
        }
        with pytest.raises(PerenniaError, match="a trial called 'stock' is on record"):
            planned(garden, beds={"B1": 4}, name="stock")
        assert "Not on record yet: bed B9" in planned(garden, beds={"B9": 4}).summary()


def test_seasons_that_still_run_tell_no_spread() -> None:
    rows = arms([900.0, 1200.0], [500.0, 800.0, 30.0])
    rows[-1] |= {"finished": False}
    found = residual_spread(units_of(rows_of(frame(rows)), MEASURES["total_g"]), "fresh", 0.95)
    assert found is not None
    assert (found.n, found.df, found.mean) == (4, 2, 650.0)
