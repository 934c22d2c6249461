"""Exact paired and rank tests against published examples and tables."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from scipy import stats

from perennia.analysis.exact import exact_paired, exact_two_sample
from perennia.analysis.permutation import paired_distribution
from perennia.analysis.seasons.ageing import t_interval

# Darwin 1876, The Effects of Cross and Self Fertilisation, maize; differences cross less self in eighths of an inch,
# as used by Fisher 1935, The Design of Experiments, section 21 (R package boot, data set darwin).
DARWIN = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])

# Hollander and Wolfe 1973, Nonparametric Statistical Methods, p. 29: depression scale before and after treatment.
BEFORE = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
AFTER = np.array([0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29])

# Two-sided 5 % points, largest statistic still significant: Mann and Whitney 1947; Siegel 1956, Nonparametric
# Statistics, tables K and G (values from memory, equal to an exact count).
MANN_WHITNEY = {
    (4, 4): 0, (5, 5): 2, (6, 6): 5, (7, 7): 8, (8, 8): 13, (10, 10): 23,
    (3, 5): 0, (4, 6): 2, (5, 8): 6, (6, 9): 10, (7, 10): 14, (9, 12): 26,
}  # fmt: skip
WILCOXON = {6: 0, 7: 2, 8: 3, 9: 5, 10: 8, 12: 13, 15: 25, 11: 10, 13: 17, 14: 21, 16: 29, 20: 52, 25: 89}


def test_darwin_sign_arrangements_count_the_equal_ones() -> None:
    # Fisher's 863 of 32768 arrangements with a sum of at least 314 (835 greater, 28 equal), doubled.
    found = exact_paired(DARWIN, scores="values")
    assert Fraction(found.p) == Fraction(2 * 863, 32768)
    assert found.exact
    assert found.draws is None
    assert found.estimate == pytest.approx(314 / 15, abs=1e-12)
    # scipy.stats.permutation_test with all sign arrangements
    peer = stats.permutation_test((DARWIN,), np.sum, permutation_type="samples", n_resamples=np.inf)
    assert found.p == pytest.approx(float(peer.pvalue), abs=1e-12)


def test_darwin_equal_sums_are_counted() -> None:
    # counted with ">" alone it would be Fisher's 835 of 32768, p 0.050964
    assert DARWIN.sum() == 314
    signs = np.array(np.meshgrid(*[[1, -1]] * 15)).reshape(15, -1)
    sums = np.abs(DARWIN) @ signs
    assert (int((sums > 314).sum()), int((sums == 314).sum())) == (835, 28)
    found = exact_paired(DARWIN, scores="values")
    assert found.p == pytest.approx(2 * int((sums >= 314).sum()) / sums.size, abs=1e-15)
    assert found.p != pytest.approx(0.050964, abs=1e-4)


def test_darwin_t_interval() -> None:
    # agridat help, darwin.maize: t.test of the differences, 95 % interval 0.003899 to 5.229434 inches
    assert t_interval(list(DARWIN / 8), 0.95) == pytest.approx((0.003899, 5.229434), abs=1e-6)


def test_darwin_in_inches_is_the_same_question() -> None:
    inches = exact_paired(DARWIN / 8, scores="values")
    assert Fraction(inches.p) == Fraction(1726, 32768)
    assert inches.estimate == pytest.approx(2.6167, abs=5e-5)  # agridat help, darwin.maize: mean difference


def test_darwin_signed_ranks() -> None:
    # scipy.stats.wilcoxon(method="exact"): T- = 24, p 0.0412598; the ties among |d| are none
    found = exact_paired(DARWIN / 8)
    assert found.p == pytest.approx(0.0412598, abs=1e-7)
    assert found.p == pytest.approx(float(stats.wilcoxon(DARWIN, method="exact").pvalue), abs=1e-12)
    assert found.estimate == pytest.approx(3.125, abs=1e-9)  # pseudomedian in inches, own exact count


def test_hollander_wolfe_depression_scale() -> None:
    # R, help page of wilcox.test: V = 40, one-sided p = 0.01953125; Hodges-Lehmann 0.46 (from memory)
    found = exact_paired(BEFORE - AFTER)
    assert found.p == pytest.approx(2 * 0.01953125, abs=1e-10)
    assert found.estimate == pytest.approx(0.46, abs=0.005)
    # the null distribution itself, in doubled ranks: P(V >= 40)
    distribution = paired_distribution(tuple(range(2, 20, 2)))
    assert float(distribution.upper[2 * 40]) == pytest.approx(0.01953125, abs=1e-15)


@pytest.mark.parametrize("sizes", MANN_WHITNEY)
def test_mann_whitney_critical_values(sizes: tuple[int, int]) -> None:
    critical = MANN_WHITNEY[sizes]
    assert _p_of_u(*sizes, critical) <= 0.05 < _p_of_u(*sizes, critical + 1)


def _p_of_u(n: int, m: int, u: int) -> float:
    """p of an arrangement whose Mann-Whitney U for the first arm is u: y sits at 0, 1, ..., x between."""
    beaten = [min(m, u - m * i) if u - m * i > 0 else 0 for i in range(n)]
    x = np.array([count - 0.5 + i / (10 * n) for i, count in enumerate(beaten)])
    y = np.arange(m, dtype=float)
    assert int((x[:, None] > y[None, :]).sum()) == u
    return exact_two_sample([(x, y)]).p


@pytest.mark.parametrize("pairs", WILCOXON)
def test_wilcoxon_critical_values(pairs: int) -> None:
    critical = WILCOXON[pairs]
    assert _p_of_t(pairs, critical) <= 0.05 < _p_of_t(pairs, critical + 1)


def _p_of_t(pairs: int, t: int) -> float:
    """p of pairs whose positive ranks add up to t."""
    differences = -np.arange(1, pairs + 1, dtype=float)
    for rank in range(pairs, 0, -1):
        if t >= rank:
            differences[rank - 1], t = rank, t - rank
    assert t == 0
    return exact_paired(differences).p


@pytest.mark.parametrize(("pairs", "smallest"), [(4, 0.125), (5, 0.0625), (6, 0.03125), (8, 0.0078125)])
def test_smallest_attainable_p_of_pairs(pairs: int, smallest: float) -> None:
    # combinatorics: 2 of 2^n sign arrangements
    for scores in ("ranks", "values"):
        found = exact_paired(np.arange(1.0, pairs + 1), scores=scores)  # type: ignore[arg-type]
        assert found.smallest_p == found.p == smallest


@pytest.mark.parametrize("each", [3, 4, 5])
def test_smallest_attainable_p_of_two_arms(each: int) -> None:
    # combinatorics: 2 of C(2n, n) arrangements: 0.1, 2/70, 2/252
    low, high = np.arange(float(each)), 10 + np.arange(float(each)) ** 2
    for scores in ("ranks", "values"):
        found = exact_two_sample([(low, high)], scores=scores)  # type: ignore[arg-type]
        assert found.p == pytest.approx(2 / comb(2 * each, each), abs=1e-15)
        assert found.smallest_p == pytest.approx(2 / comb(2 * each, each), abs=1e-15)


def test_a_level_out_of_reach_is_never_claimed() -> None:
    # 5 pairs reach 93.75 %, 3 against 3 reach 90 %
    assert exact_paired([1.0, 2.5, 3.0, 4.5, 6.0]).level == 0.9375
    three = exact_two_sample([([1.0, 2.0, 4.0], [5.5, 8.0, 16.0])])
    assert three.level == pytest.approx(0.90, abs=1e-12)
    assert (three.low, three.high) == (1.0 - 16.0, 4.0 - 5.5)
