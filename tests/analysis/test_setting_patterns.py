"""Patterns of failures to set: runs, days held fixed, load, dates against a trend with good and bad days, wording."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import combinations
from typing import Any

import attrs
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.causes.setting import pattern_rows as patterns
from perennia.analysis.causes.setting.courses import (
    courses,
    loss_series,
    opening_series,
    pods_growing,
    pods_left,
    unequal_removal,
)
from perennia.analysis.causes.setting.date_null import DAYS_NEEDED, DaySeries, date_tests, day_effects
from perennia.analysis.causes.setting.date_scan import gaps, scan, spikes, steps
from perennia.analysis.causes.setting.flowers import Flower, FlowerBook, FlowerBooks
from perennia.analysis.causes.setting.patterns import SettingPatterns, patterns_of, setting_patterns
from perennia.analysis.causes.setting.pod_set import pod_set_of
from perennia.analysis.causes.setting.runs import count_runs, runs_distribution, runs_together
from perennia.analysis.causes.setting.within_days import (
    FlowerArrays,
    plant_load_within_days,
    position_within_days,
    runs_within_days,
    shuffles,
    truss_load_within_days,
)
from perennia.errors import AnalysisError, ArgumentError
from tests.calibration.setting_gardens import garden

JULY = date(2024, 7, 1)
DRAWS = 199


def flower(
    plant: str, truss: str, position: int, opened: int, set_on: int | None = None, ended: int | None = None,
    end: str | None = "flower dropped",
) -> Flower:  # fmt: skip
    """A flower with days as numbers after 1 July."""
    days = [None if day is None else JULY + timedelta(day) for day in (opened, set_on, ended)]
    return Flower(plant, (plant, truss), position, *days, end, lost_sight=False)


def book(*flowers: Flower, last: int = 60) -> FlowerBook:
    return FlowerBook("bean", 2024, "2024", flowers, (), 0, 0, JULY + timedelta(last))


def books(*found: FlowerBook) -> FlowerBooks:
    return FlowerBooks(found, 0, ())


def row_of(result: SettingPatterns, pattern: str) -> dict[str, Any]:
    (row,) = result.table[result.table["pattern"] == pattern].to_dict("records")
    return dict(row)


def listed_runs(n1: int, n2: int) -> Counter[int]:
    """Every order of n1 and n2 and its runs."""
    return Counter(
        count_runs([place in chosen for place in range(n1 + n2)]) for chosen in combinations(range(n1 + n2), n1)
    )


@given(st.integers(0, 6), st.integers(0, 6))
def test_runs_have_the_distribution_of_all_orders(n1: int, n2: int) -> None:
    chances = runs_distribution(n1, n2)
    found = listed_runs(n1, n2)
    assert chances.sum() == pytest.approx(1)
    assert {runs: chance for runs, chance in enumerate(chances) if chance > 0} == pytest.approx(
        {runs: ways / sum(found.values()) for runs, ways in found.items()}
    )


def test_runs_of_several_trusses_are_added_exactly() -> None:
    one, other = [True, True, True, False, False, False], [False, False, True, True, True]
    test = runs_together([one, other, [True, True]])
    assert test is not None
    both = [a + b for a in listed_runs(3, 3).elements() for b in listed_runs(3, 2).elements()]
    assert (test.runs, test.sequences) == (4, 2)
    assert test.p == pytest.approx(2 * np.mean(np.array(both) <= 4))
    # the other tail, of every flower beside one of the other fate, is rarer
    assert test.smallest_p == pytest.approx(2 * np.mean(np.array(both) == 11))
    assert test.expected == pytest.approx(np.mean(both))
    assert runs_together([[True, True], [False]]) is None


@given(st.lists(st.tuples(st.integers(0, 3), st.booleans()), min_size=1, max_size=20))
def test_shuffles_stay_in_their_stratum(found: list[tuple[int, bool]]) -> None:
    strata, values = np.array([s for s, _ in found]), np.array([float(v) for _, v in found])
    drawn = shuffles(values, strata, 20, 1)
    assert drawn[0].tolist() == values.tolist()
    for stratum in set(strata.tolist()):
        assert (drawn[:, strata == stratum].sum(1) == values[strata == stratum].sum()).all()


def arrays(kept: np.ndarray, *, trusses: int = 8, days: int = 6, load: np.ndarray | None = None) -> FlowerArrays:
    """Two plants; a truss opens a flower a day, and starts a day after the one before."""
    truss = np.repeat(np.arange(trusses), days)
    place = np.tile(np.arange(days), trusses)
    carried = np.zeros(truss.size) if load is None else load
    return FlowerArrays(kept.astype(float), truss % 2, truss, place / (days - 1), truss // 2 + place, carried, carried)


def test_a_bad_day_is_no_pattern_of_the_truss() -> None:
    opened = arrays(np.zeros(48)).opened
    # all that opened on two days failed, and nothing else did
    flowers = arrays(~np.isin(opened, (4, 5)))
    assert runs_within_days(flowers, DRAWS) is None
    assert position_within_days(flowers, DRAWS) is None
    alone = runs_together([[bool(k) for k in flowers.kept[flowers.truss == truss]] for truss in range(8)])
    assert alone is not None
    assert alone.p < 0.05


def test_a_limit_by_place_is_one_of_position_and_of_runs() -> None:
    flowers = arrays(np.tile(np.arange(6), 40) < 3, trusses=40)
    place = position_within_days(flowers, DRAWS)
    assert place is not None
    assert place.statistic < -0.2
    assert place.p == place.smallest_p == 1 / (DRAWS + 1)
    runs = runs_within_days(flowers, DRAWS)
    assert runs is not None
    assert runs.statistic == 80
    assert runs.statistic < runs.expected
    assert runs.p < 0.05
    turned = position_within_days(attrs.evolve(flowers, kept=1 - flowers.kept), DRAWS)
    assert turned is not None
    assert turned.statistic == pytest.approx(-place.statistic)


def test_load_is_one_sided_and_position_is_taken_off() -> None:
    random = np.random.default_rng(1)
    load = random.integers(0, 4, 48).astype(float)
    flowers = arrays(load < 2, load=load)
    for test in (truss_load_within_days, plant_load_within_days):
        fewer, more = test(flowers, DRAWS), test(attrs.evolve(flowers, kept=1 - flowers.kept), DRAWS)
        assert fewer is not None
        assert more is not None
        assert fewer.statistic < 0 < more.statistic
        assert fewer.p < 0.05
        assert more.p > 0.9
    beside = arrays(load < 2, load=flowers.rank * 3)
    assert truss_load_within_days(beside, DRAWS) is None


def test_what_plants_differ_in_for_good_is_no_load() -> None:
    flowers = arrays(np.tile([True, True, False, True, False, True], 8))
    assert plant_load_within_days(attrs.evolve(flowers, plant_load=5.0 * flowers.plant), DRAWS) is None


def test_pods_growing_and_pods_left() -> None:
    found = courses(book(
        flower("A", "t1", 1, 0, 4, 20, "picked"), flower("A", "t1", 2, 1, 5, 9, "pod dropped"),
        flower("A", "t1", 3, 5, None, 8), flower("A", "t2", 1, 9, 13, 30, "picked"), flower("A", "t2", 2, 20, None, 23),
        flower("B", "t1", 1, 9, None, 12),
    ))  # fmt: skip
    assert pods_growing(found, found.truss).tolist() == [0, 0, 2, 0, 1, 0]
    # a pod picked or dropped on the day a flower opened is off by then
    assert pods_growing(found, found.plant).tolist() == [0, 0, 2, 1, 1, 0]
    # half of all flowers set, four days after opening; one of three pods was picked by the twentieth day
    assert pods_left(found).tolist() == pytest.approx([0, 0, 1, 1.5, 4 / 2 * 2 / 3, 0])


def test_picking_is_unequal_where_plants_differ_in_the_share_taken() -> None:
    def pods(plant: str, picked: int) -> list[Flower]:
        return [flower(plant, "t1", place + 1, 0, 4, picked, "picked") for place in range(6)]

    late = [flower("A", "t2", 1, 20, None, 23), flower("B", "t2", 1, 20, None, 23)]
    assert unequal_removal(courses(book(*pods("A", 10), *pods("B", 40), *late))) == 1
    assert unequal_removal(courses(book(*pods("A", 10), *pods("B", 11), *late))) == 0
    assert unequal_removal(courses(book(*pods("A", 10)[:3], *pods("B", 40), *late))) is None


def test_a_flower_still_open_hides_the_days_after_it() -> None:
    found = courses(book(
        flower("A", "t1", 1, 50, 54, 58, "pod dropped"), flower("A", "t1", 2, 55, None, None, None),
        flower("A", "t1", 3, 56, None, 58), flower("A", "t1", 4, 50, None, 55, "lost to view"),
    ))  # fmt: skip
    assert found.decided.tolist() == [True, False, False, False]
    full = courses(book(flower("A", "t1", 1, 50, 54, 58, "pod dropped"), flower("A", "t1", 2, 40, 45, None, None)),
                   "full size")  # fmt: skip
    assert not full.decided.any()


def test_series_by_opening_and_by_loss() -> None:
    found = courses(book(*(
        flower(plant, "t1", day * 2 + pair + 1, day, *((day + 4, 50, "picked") if pair else (None, day + 3)))
        for plant in "AB" for day in range(15) for pair in range(2)
    )))  # fmt: skip
    opened, lost = opening_series(found), loss_series(found)
    assert opened is not None
    assert lost is not None
    assert (opened.events.tolist(), opened.trials.tolist()) == ([2.0] * 15, [4.0] * 15)
    # every loss is at three days old, so that of four flowers at risk at that age two are lost
    assert lost.days.tolist() == [JULY.toordinal() + 3 + day for day in range(15)]
    assert lost.events.tolist() == [2.0] * 15
    assert lost.offset == pytest.approx(np.zeros(15))


def test_losses_are_taken_by_the_looks_that_found_them() -> None:
    found = courses(book(*(
        flower(plant, "t1", look * 3 + place + 1, look * 3, None, look * 3 + 6 if place else look * 3 + 3)
        for plant in "AB" for look in range(8) for place in range(3)
    )))  # fmt: skip
    lost = loss_series(found)
    assert lost is not None
    # nothing was seen between looks; of six flowers two are lost at the next look and the others at the one after it
    assert np.diff(lost.days).tolist() == [3] * (lost.days.size - 1)
    middle = slice(2, -2)
    assert set(lost.events[middle]) == {6.0}
    assert set(lost.trials[middle]) == {10.0}


def test_a_longer_time_since_the_look_before_brings_more_losses() -> None:
    def opened(day: int, lost: int, set_on: list[int]) -> list[Flower]:
        """Ten flowers, the last so many lost when five days old."""
        kept = [flower("A", f"t{day}", one + 1, day, set_on[one % len(set_on)], 50, "picked")
                for one in range(10 - lost)]  # fmt: skip
        return kept + [flower("A", f"t{day}", 10 - one, day, None, day + 5) for one in range(lost)]

    lost = loss_series(courses(book(*opened(4, 5, [9]), *opened(9, 1, [10, 11, 12, 13]))))
    assert lost is not None
    assert (lost.days - JULY.toordinal()).tolist() == [9, 14]
    # six lost at that age in 10 x 5 and 10 x 1 days since a look: a tenth a day
    assert lost.trials / (1 + np.exp(-lost.offset)) == pytest.approx([5, 1])


def test_runs_are_withheld_where_looks_are_far_apart() -> None:
    found = patterns_of(books(garden("position", 2, looks_every=3)), draws=DRAWS)
    row = row_of(found, patterns.RUNS)
    assert pd.isna(row["p"])
    assert row["reason"] == "days of opening are 3 days apart, too coarse to hold good and bad days fixed"
    assert row_of(found, patterns.POSITION)["p"] <= 0.05


def series(chances: np.ndarray, trials: int = 20, seed: int = 1) -> DaySeries:
    n = chances.size
    events = np.random.default_rng(seed).binomial(trials, chances).astype(float)
    return DaySeries(np.arange(n, dtype=float), events, np.full(n, float(trials)), np.empty((n, 0)), np.zeros(n))


def test_a_step_is_found_and_a_slope_is_none() -> None:
    n = 40
    family = [((steps(n, 3), spikes(n, 3)), "either")]
    (step,) = date_tests(series(np.where(np.arange(n) < 25, 0.6, 0.15), 60), family, DRAWS)  # type: ignore[arg-type]
    assert step is not None
    assert (step.kind, step.first, step.last) == ("step", 24, 25)
    assert step.change < -1
    assert step.p <= 0.05
    (slope,) = date_tests(series(np.linspace(0.7, 0.2, n)), family, DRAWS)  # type: ignore[arg-type]
    assert slope is not None
    assert slope.p > 0.05


def test_a_gap_counts_falls_only_and_a_burst_rises_only() -> None:
    n = 40
    days = np.arange(n, dtype=float)
    held = np.where((days >= 18) & (days <= 21), 0.05, 0.5)
    fewer = ((gaps(days, 3, 8),), "fewer")
    gap, more = date_tests(series(held), [fewer, ((gaps(days, 3, 8),), "more")], DRAWS)  # type: ignore[list-item]
    assert gap is not None
    assert more is not None
    assert (gap.kind, gap.first, gap.last) == ("gap", 18, 21)
    assert gap.p <= 0.05
    assert more.change > 0
    assert more.p > 0.05
    (turned,) = date_tests(series(1 - held), [fewer], DRAWS)  # type: ignore[list-item]
    assert turned is not None
    assert turned.change < 0
    assert turned.p > 0.05


def test_gaps_are_no_longer_than_asked() -> None:
    days = np.array([0.0, 1, 2, 3, 4, 9, 10, 11, 12, 13, 14])
    found = gaps(days, 2, 4)
    spans = {(int(first), int(last)) for first, last in zip(days[found.first], days[found.last], strict=True)}
    assert spans == {(2, 3), (2, 4), (3, 4), (9, 10), (9, 11), (9, 12), (10, 11), (10, 12), (11, 12)}


def test_good_and_bad_days_alone_are_rarely_a_date() -> None:
    n, told = 40, 0
    for seed in range(12):
        days, random = np.zeros(n), np.random.default_rng(seed)
        for place in range(1, n):
            days[place] = 0.6 * days[place - 1] + 0.8 * random.normal()
        found = date_tests(series(1 / (1 + np.exp(-days)), 100), [((steps(n, 3),), "either")], 99)
        told += found[0] is not None and found[0].p <= 0.05
    # were days drawn without such effects, most of these would be told as a date
    assert told <= 2


def test_the_scan_is_least_squares_with_each_stretch_in_turn() -> None:
    random = np.random.default_rng(2)
    values, weights = random.normal(size=(3, 20)), random.random((3, 20)) + 0.1
    design = np.column_stack([np.ones(20), np.arange(20)])
    candidates = gaps(np.arange(20.0), 2, 5)
    found = scan(values, weights, design, candidates.start, candidates.stop)
    for one in range(3):
        root = np.sqrt(weights[one])
        for place in (0, 7, candidates.start.size - 1):
            column = np.zeros(20)
            column[candidates.start[place] : candidates.stop[place]] = 1
            whole = np.column_stack([design, column])
            answer, rss, *_ = np.linalg.lstsq(whole * root[:, None], values[one] * root, rcond=None)
            assert found.change[one, place] == pytest.approx(answer[-1], abs=1e-6)
            assert found.rss_with()[one, place] == pytest.approx(rss[0], abs=1e-6)
    assert found.freedom == 17


def test_good_and_bad_days_are_measured() -> None:
    days, random = np.zeros(400), np.random.default_rng(3)
    for place in range(1, 400):
        days[place] = 0.6 * days[place - 1] + 0.8 * random.normal()
    half = np.full(400, 0.5)
    found = day_effects(series(1 / (1 + np.exp(-0.8 * days)), 60), half, 1)
    assert found.sd == pytest.approx(0.75, abs=0.15)
    assert found.correlation == pytest.approx(0.6, abs=0.15)
    assert day_effects(series(half, 60), half, 1).sd < 0.15


def test_too_few_days_and_nothing_to_tell() -> None:
    with pytest.raises(AnalysisError, match=f"from {DAYS_NEEDED} days on, here 11"):
        date_tests(series(np.full(11, 0.5)), [((steps(11, 3),), "either")], DRAWS)
    assert date_tests(series(np.zeros(20)), [((steps(20, 3),), "either")], DRAWS) == [None]


def test_one_plant_with_two_trusses_cannot_tell_anything() -> None:
    found = patterns_of(books(garden("stop and position", 1, plants=1, trusses=2)), draws=DRAWS)
    assert found.table["p"].isna().all()
    assert found.table["reason"].str.endswith("the books have 2").all()
    assert found.table["pattern"].tolist() == list(patterns.PATTERNS)
    (told,) = (text for text in found.findings if "can be told" in text)
    assert all(pattern in told for pattern in patterns.PATTERNS)
    assert not any("adjusted p below" in text for text in found.findings)
    assert any("None of the patterns can be told from these flowers" in text for text in found.cautions)


def test_one_plant_with_many_trusses_shows_its_own_patterns_only() -> None:
    found = patterns_of(books(garden("position", 1, plants=1, trusses=20)), draws=DRAWS)
    assert row_of(found, patterns.POSITION)["p"] <= 0.05
    for pattern in (patterns.DATE_OPENED, patterns.DATE_LOST, patterns.GAP, patterns.PLANT_LOAD):
        row = row_of(found, pattern)
        assert pd.isna(row["p"])
        assert row["reason"] == "one plant alone cannot show what all plants share"


@pytest.fixture(scope="module")
def stopped() -> SettingPatterns:
    return patterns_of(books(garden("stop", 3)), draws=DRAWS)


def test_a_day_that_stops_all(stopped: SettingPatterns) -> None:
    lost, gap = (row_of(stopped, pattern) for pattern in (patterns.DATE_LOST, patterns.GAP))
    assert lost["p"] == lost["smallest_p"] == 1 / (DRAWS + 1)
    assert gap["on_from"] <= lost["on_from"]
    (through,) = stopped.gaps.to_dict("records")
    assert through["share_within"] < min(through["share_before"], through["share_after"])
    assert 0 < through["trusses_resumed"] <= through["trusses_through"] <= through["trusses_within"]
    assert row_of(stopped, patterns.PLANT_LOAD)["reason"].startswith("pods were picked and thinned alike")
    text = stopped.summary()
    assert "a burst of losses on " in text
    assert "this is no verdict" in text
    assert "that flowered on through it did" in text
    assert "one bed's weather is one series" in text


def test_what_to_read_first_goes_by_the_adjusted_p(stopped: SettingPatterns) -> None:
    rows = [dict(row) for row in stopped.table.astype(object).to_dict("records")]
    told = [row for row in rows if not pd.isna(row["p"])]
    rare = [str(row["pattern"]) for row in told if row["p_adjusted"] < 0.05]
    assert rare
    assert stopped.findings[0].endswith(
        f"of {len(told)} patterns that can be told these have an adjusted p below 0.05: {'; '.join(rare)}."
    )


def test_p_are_adjusted_for_their_number(stopped: SettingPatterns) -> None:
    told = stopped.table.dropna(subset="p")
    assert len(told) == 6
    assert (told["p_adjusted"] >= told["p"]).all()
    assert told["p_adjusted"].min() == pytest.approx(6 / (DRAWS + 1))
    assert stopped.n == 5
    assert set(stopped.by_truss["plant"]) == {f"P{number}" for number in range(5)}


def test_draws_seed_and_stage_change_the_answer() -> None:
    given = books(garden("random", 5))
    few, other = patterns_of(given, draws=99), patterns_of(given, draws=99, seed=2)
    assert few.table.equals(patterns_of(given, draws=99).table)
    assert not few.table["p"].equals(other.table["p"])
    assert few.table["smallest_p"].dropna().min() == 1 / 100
    full = patterns_of(given, "full size", 99)
    assert full.stage == "full size"
    assert row_of(full, patterns.RUNS)["statistic"] != row_of(few, patterns.RUNS)["statistic"]


def test_a_pod_set_is_taken_as_it_was_chosen() -> None:
    chosen = pod_set_of(books(garden("random", 6)))
    assert setting_patterns(chosen, draws=99).table.equals(patterns_of(chosen.books, draws=99).table)
    with pytest.raises(AnalysisError, match="give crop, season and labels to pod_set"):
        setting_patterns(chosen, season=2024)
    with pytest.raises(AnalysisError, match="unknown stage 'ripe': choose one of set, full size"):
        setting_patterns(chosen, stage="ripe")
    with pytest.raises(AnalysisError, match="draws is 10; give 99 or more"):
        setting_patterns(chosen, draws=10)
    with pytest.raises(ArgumentError, match="seed is 'x'"):
        setting_patterns(chosen, seed="x")  # type: ignore[arg-type]


def test_nothing_on_record() -> None:
    found = patterns_of(books())
    assert found.findings == ("No flowering is on record for what was asked.",)
    assert found.table.empty
    assert found.cautions == ()


def test_fates_all_alike_tell_nothing() -> None:
    found = patterns_of(books(book(*(
        flower(plant, f"t{truss}", day + 1, day + truss, None, day + truss + 3)
        for plant in "AB" for truss in range(4) for day in range(12)
    ))), draws=DRAWS)  # fmt: skip
    assert set(found.table["reason"]) == {"all flowers have one fate"}
