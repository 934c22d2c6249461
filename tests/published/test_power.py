"""Power and units an arm against published tables."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower, TTestPower

from perennia.analysis.decisions.trials import power_theory as theory
from perennia.analysis.exact import exact_paired, exact_two_sample

# Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, tables 2.3 and 2.4 (as two pages quote them):
# two-sided 5 %, power 0.80. Cohen prints 393 and 175 where rounding up gives 394 and 176.
COHEN = {0.2: 393, 0.3: 175, 0.4: 100, 0.5: 64, 0.6: 45, 0.7: 34, 0.8: 26, 1.0: 17}


@pytest.mark.parametrize("effect", COHEN)
def test_units_an_arm_of_cohens_tables(effect: float) -> None:
    n = theory.units_for_t(effect, 0.8)
    assert abs(math.ceil(n) - COHEN[effect]) <= 1
    assert n == pytest.approx(TTestIndPower().solve_power(effect, alpha=0.05, power=0.8), abs=1e-4)


def test_power_of_twenty_an_arm() -> None:
    # R, help page of power.t.test: n = 20, delta = 1, sd = 1; it leaves out the far tail, 2e-7 here
    assert theory.t_power(1.0, 20) == pytest.approx(0.8689528, abs=1e-6)


def test_units_of_the_help_page_of_power_t_test() -> None:
    # R, help page of power.t.test: power .90, delta = 1, two-sided and one-sided
    assert theory.units_for_t(1.0, 0.9) == pytest.approx(22.02110, abs=1e-4)
    assert theory.units_for_t(1.0, 0.9, two_sided=False) == pytest.approx(17.84713, abs=1e-4)


def test_power_of_two_shares() -> None:
    # R, help page of power.prop.test: n = 50, p1 = .50, p2 = .75
    assert theory.shares_power(0.5, 0.75, 50) == pytest.approx(0.7401659, abs=1e-6)


def test_units_for_two_shares() -> None:
    # R, help page of power.prop.test: .50 against .75 at power .90, .90 against 1 at power .80
    assert theory.units_for_shares(0.5, 0.75, 0.9) == pytest.approx(76.70693, abs=1e-3)
    assert theory.units_for_shares(0.9, 1.0, 0.8) == pytest.approx(73.37427, abs=1e-3)


@pytest.mark.parametrize(
    ("n", "expected"), [(3, 0.1588), (4, 0.2232), (5, 0.2863), (6, 0.3474), (8, 0.4612), (10, 0.5620)]
)
def test_power_of_few_units(n: int, expected: float) -> None:
    # statsmodels 0.15.0, TTestIndPower, difference of one standard deviation
    assert theory.t_power(1.0, n) == pytest.approx(expected, abs=1e-4)
    assert theory.t_power(1.0, n) == pytest.approx(TTestIndPower().power(1.0, n, 0.05), abs=1e-8)


@pytest.mark.parametrize(
    ("pairs", "expected"), [(3, 0.1793), (4, 0.2888), (5, 0.4014), (6, 0.5068), (8, 0.6808), (10, 0.8031)]
)
def test_power_of_few_pairs(pairs: int, expected: float) -> None:
    # statsmodels 0.15.0, TTestPower
    assert theory.paired_t_power(1.0, pairs) == pytest.approx(expected, abs=1e-4)
    assert theory.paired_t_power(1.0, pairs) == pytest.approx(TTestPower().power(1.0, pairs, 0.05), abs=1e-8)


def test_pairs_for_a_difference() -> None:
    # 34 and 15 from memory; statsmodels' TTestPower gives the same
    assert math.ceil(theory.pairs_for_t(0.5, 0.8)) == 34
    assert math.ceil(theory.pairs_for_t(0.8, 0.8)) == 15


def test_unequal_arms_equal_statsmodels() -> None:
    found = theory.t_power(0.7, 12, allocation=2.0)
    assert found == pytest.approx(TTestIndPower().power(0.7, 12, 0.05, ratio=2.0), abs=1e-8)


@pytest.mark.parametrize(("first", "second", "n", "m"), [(0.3, 0.9, 6, 6), (0.5, 0.95, 8, 5), (0.4, 0.4, 7, 7)])
def test_fisher_power_is_the_chance_of_the_tables_scipy_rejects(first: float, second: float, n: int, m: int) -> None:
    by_hand = sum(
        stats.binom.pmf(a, n, first) * stats.binom.pmf(b, m, second)
        for a in range(n + 1)
        for b in range(m + 1)
        if stats.fisher_exact([[a, n - a], [b, m - b]]).pvalue <= 0.05 * (1 + 1e-9)
    )
    assert theory.fisher_power(first, second, n, m) == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize(("pairs", "least_ahead"), [(6, 6), (8, 8), (9, 8), (12, 10), (15, 12)])
def test_sign_power_is_the_chance_of_the_critical_counts(pairs: int, least_ahead: int) -> None:
    # two-sided 5 % critical counts of the sign test, Siegel 1956, table D (from memory; equal to the binomial sum)
    ahead = np.arange(least_ahead, pairs + 1)
    chance = stats.binom.pmf(ahead, pairs, 0.8).sum() + stats.binom.pmf(pairs - ahead, pairs, 0.8).sum()
    assert theory.sign_power(0.8, pairs) == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize(("pairs", "smallest"), [(4, 0.125), (5, 0.0625), (6, 0.03125), (8, 0.0078125)])
def test_smallest_p_of_pairs(pairs: int, smallest: float) -> None:
    # combinatorics: 2 of the 2**n ways to turn the signs
    assert exact_paired(np.arange(1.0, pairs + 1)).smallest_p == smallest


@pytest.mark.parametrize(("n", "smallest"), [(3, 2 / 20), (4, 2 / 70), (5, 2 / 252)])
def test_smallest_p_of_two_arms(n: int, smallest: float) -> None:
    # combinatorics: 2 of the ways to choose n of 2 n; so 3 against 3 can never reach 5 %
    found = exact_two_sample([(np.arange(1.0, n + 1), np.arange(n + 1.0, 2 * n + 1))])
    assert found.smallest_p == pytest.approx(smallest, abs=1e-15)
    assert found.p == pytest.approx(smallest, abs=1e-12)
