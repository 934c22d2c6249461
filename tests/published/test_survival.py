"""Survival curves, the log-rank test and intervals for shares against published examples and other libraries."""

from __future__ import annotations

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test, multivariate_logrank_test
from scipy import stats
from statsmodels.duration.survfunc import survdiff
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from perennia.analysis.decisions.surviving.lifetimes import kaplan_meier, log_rank, median_of
from perennia.analysis.decisions.surviving.shares import Share, difference, share_of_boxes

# Freireich et al. 1963, Blood 21: 699-716, remission in weeks (Gehan 1965; Cox and Oakes 1984, Analysis of Survival
# Data, p. 7; R package MASS, data set gehan); True where the remission ended.
TREATED = [
    (6, True), (6, True), (6, True), (6, False), (7, True), (9, False), (10, True), (10, False), (11, False),
    (13, True), (16, True), (17, False), (19, False), (20, False), (22, True), (23, True), (25, False), (32, False),
    (32, False), (34, False), (35, False),
]  # fmt: skip
CONTROL = [(time, True) for time in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)]


def test_six_mp_curve_errors_and_intervals() -> None:
    # R package MASS, recorded output of the example: survival, Greenwood's error, log-log interval
    steps = {step.time: step for step in kaplan_meier(*zip(*TREATED, strict=True))}
    shares = [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]
    errors = [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
    for time, share, error in zip((6, 7, 10, 13, 16, 22, 23), shares, errors, strict=True):
        assert steps[time].share == pytest.approx(share, abs=0.0006)
        assert steps[time].se == pytest.approx(error, abs=0.00006)
    for time, low, high in ((6, 0.620, 0.952), (10, 0.503, 0.889), (23, 0.188, 0.680)):
        assert (steps[time].low, steps[time].high) == pytest.approx((low, high), abs=0.0006)
    assert (steps[6].at_risk, steps[6].deaths, steps[6].censored) == (21, 3, 1)
    assert steps[9].share == steps[7].share


def test_six_mp_control_and_medians() -> None:
    # the same output; medians 23 and 8 weeks also by lifelines
    steps = kaplan_meier(*zip(*CONTROL, strict=True))
    expected = [
        0.9048, 0.8095, 0.7619, 0.6667, 0.5714, 0.3810, 0.2857, 0.1905, 0.1429, 0.0952, 0.0476, 0.0,
    ]  # fmt: skip
    assert [step.share for step in steps] == pytest.approx(expected, abs=0.00006)
    assert (steps[-1].low, steps[-1].se) == (None, None)
    assert median_of(steps) == 8
    assert median_of(kaplan_meier(*zip(*TREATED, strict=True))) == 23
    assert median_of(kaplan_meier([3, 4], [False, True])) == 4
    assert median_of(kaplan_meier([3, 4], [True, False])) == 3
    assert median_of(kaplan_meier([3, 4], [False, False])) is None


def test_six_mp_log_rank() -> None:
    # lifelines' tests, after Kleinbaum and Klein 2012: 16.8, 4.17e-5; scipy.stats.logrank squared 16.79294
    both = [*TREATED, *CONTROL]
    found = log_rank([t for t, _ in both], [d for _, d in both], ["6-MP"] * 21 + ["control"] * 21)
    assert found is not None
    assert (found.n, found.observed, found.df) == ((21, 21), (9, 21), 1)
    assert found.chi2 == pytest.approx(16.79, abs=0.005)
    assert found.p == pytest.approx(4.17e-5, abs=1e-7)
    treated, control = (
        stats.CensoredData.right_censored([t for t, _ in arm], [not d for _, d in arm]) for arm in (TREATED, CONTROL)
    )
    assert found.chi2 == pytest.approx(float(stats.logrank(treated, control).statistic) ** 2, abs=1e-9)


@pytest.mark.parametrize(
    ("died", "chi2", "p"), [([1, 1, 1] * 2, 0.254237, 0.614107), ([1, 0, 1] * 2, 0.384615, 0.535143)]
)
def test_log_rank_of_three_and_three(died: list[int], chi2: float, p: float) -> None:
    # lifelines' tests, from R
    times = [10.0, 20, 30, 10, 20, 50]
    found = log_rank(times, [bool(flag) for flag in died], ["a"] * 3 + ["b"] * 3)
    assert found is not None
    assert (found.chi2, found.p) == pytest.approx((chi2, p), abs=1e-6)
    other = logrank_test(times[:3], times[3:], died[:3], died[3:])
    assert found.chi2 == pytest.approx(other.test_statistic, abs=1e-9)


def test_against_lifelines_with_late_entries_and_many_ties() -> None:
    random = np.random.default_rng(8)
    times = random.integers(2, 9, 80).astype(float)
    died, groups = random.random(80) < 0.6, [str(number) for number in random.integers(0, 3, 80)]
    entry = np.maximum(times - random.integers(1, 6, 80), 0) - 0.5
    peer = KaplanMeierFitter(alpha=0.1).fit(times, died, entry=entry)
    for step in kaplan_meier(list(times), list(died), entry=list(entry), level=0.9):
        assert step.at_risk == peer.event_table.loc[step.time, "at_risk"]
        assert step.share == pytest.approx(float(peer.survival_function_.loc[step.time].iloc[0]), abs=1e-9)
        low, high = peer.confidence_interval_.loc[step.time]
        assert (step.low, step.high) == pytest.approx((low, high), abs=1e-9)
    found = log_rank(list(times), list(died), groups)
    assert found is not None
    assert found.chi2 == pytest.approx(multivariate_logrank_test(times, groups, died).test_statistic, abs=1e-9)
    assert found.df == 2


def _alone(alive: int, roots: int) -> Share:
    return share_of_boxes([(1, 1)] * alive + [(0, 1)] * (roots - alive))


@pytest.mark.parametrize(
    ("alive", "roots", "low", "high"),
    # Newcombe 1998, Stat. Med. 17: 857-872, table I (values from memory, equal to statsmodels)
    [(81, 263, 0.2553, 0.3662), (0, 20, 0.0, 0.1611), (15, 148, 0.0624, 0.1605), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_intervals(alive: int, roots: int, low: float, high: float) -> None:
    found = _alone(alive, roots)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.00006)
    assert (found.low, found.high) == pytest.approx(proportion_confint(alive, roots, method="wilson"), abs=1e-12)


@pytest.mark.parametrize(
    ("one", "other", "low", "high"),
    # Newcombe 1998, Stat. Med. 17: 873-890, method 10 (values from memory, equal to statsmodels)
    [((56, 70), (48, 80), 0.0524, 0.3339), ((9, 10), (3, 10), 0.1705, 0.8090)],
)
def test_differences_of_shares(one: tuple[int, int], other: tuple[int, int], low: float, high: float) -> None:
    found = difference(_alone(*one), _alone(*other))
    assert found == pytest.approx((low, high), abs=0.00006)
    assert found == pytest.approx(confint_proportions_2indep(*one, *other, method="newcomb"), abs=1e-9)


def test_strata_add_up_as_elsewhere_with_late_entries_too() -> None:
    random = np.random.default_rng(9)
    times = random.integers(2, 9, 90).astype(float)
    died, strata = random.random(90) < 0.6, [str(number) for number in random.integers(0, 4, 90)]
    groups = [str(number) for number in random.integers(0, 2, 90)]
    found = log_rank(list(times), list(died), groups, strata=strata)
    assert found is not None
    peer = survdiff(times, died.astype(int), np.array(groups), strata=np.array(strata))
    assert (found.chi2, found.p) == pytest.approx(peer, abs=1e-9)
    # the hypergeometric sums by hand, over strata and times (Mantel 1966)
    entry = np.maximum(times - random.integers(1, 6, 90), 0) - 0.5
    late = log_rank(list(times), list(died), groups, strata=strata, entry=list(entry))
    gap, variance = 0.0, 0.0
    first = np.array(groups) == "0"
    for stratum in set(strata):
        own = np.array(strata) == stratum
        for time in np.unique(times[own & died]):
            risk, deaths = own & (entry < time) & (times >= time), own & died & (times == time)
            n, m, d = risk.sum(), (risk & first).sum(), deaths.sum()
            gap += (deaths & first).sum() - d * m / n
            variance += d * (m / n) * (1 - m / n) * (n - d) / max(1, n - 1)
    assert late is not None
    assert late.chi2 == pytest.approx(gap**2 / variance, abs=1e-9)
