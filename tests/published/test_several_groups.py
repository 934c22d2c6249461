"""Kruskal-Wallis and Friedman as printed, which the test of several groups must give as cases of its own.

Sources: Hollander and Wolfe 1973, Nonparametric Statistical Methods, p. 116 (mucociliary efficiency; recorded output of
R's kruskal.test) and p. 140 (rounding first base; of friedman.test).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from perennia.analysis.exact import exact_two_sample
from perennia.analysis.several import several_groups
from perennia.errors import AnalysisError

NORMAL, OBSTRUCTIVE, ASBESTOSIS = [2.9, 3.0, 2.5, 2.6, 3.2], [3.8, 2.7, 4.0, 2.4], [2.8, 3.4, 3.7, 2.2, 2.0]
ROUNDING = [
    (5.40, 5.50, 5.55), (5.85, 5.70, 5.75), (5.20, 5.60, 5.50), (5.55, 5.50, 5.40), (5.90, 5.85, 5.70),
    (5.45, 5.55, 5.60), (5.40, 5.40, 5.35), (5.45, 5.50, 5.35), (5.25, 5.15, 5.00), (5.85, 5.80, 5.70),
    (5.25, 5.20, 5.10), (5.65, 5.55, 5.45), (5.60, 5.35, 5.45), (5.05, 5.00, 4.95), (5.50, 5.50, 5.40),
    (5.45, 5.55, 5.50), (5.55, 5.55, 5.35), (5.45, 5.50, 5.55), (5.50, 5.45, 5.25), (5.65, 5.60, 5.40),
    (5.70, 5.65, 5.55), (6.30, 6.30, 6.25),
]  # fmt: skip
values = st.lists(st.integers(0, 6).map(float), min_size=2, max_size=2)


def test_kruskal_and_wallis() -> None:
    found = several_groups([[NORMAL, OBSTRUCTIVE, ASBESTOSIS]])
    assert found is not None
    assert (found.statistic, found.freedom) == (pytest.approx(0.77143, abs=5e-6), 2)
    assert stats.chi2.sf(found.statistic, 2) == pytest.approx(0.68, abs=5e-3)
    # 252,252 arrangements: a seeded sample, near the p of the chi-square
    assert not found.exact
    assert found.p == pytest.approx(0.68, abs=0.04)
    assert found.n == (5, 4, 5)


def test_friedman() -> None:
    found = several_groups([[[one] for one in row] for row in ROUNDING])
    assert found is not None
    assert (found.statistic, found.freedom) == (pytest.approx(11.143, abs=5e-4), 2)
    assert stats.chi2.sf(found.statistic, 2) == pytest.approx(0.003805, abs=1e-6)
    assert found.p == pytest.approx(0.0038, abs=0.003)


@given(values, values, values)
def test_one_stratum_is_that_of_scipy_with_ties(one: list[float], two: list[float], three: list[float]) -> None:
    found = several_groups([[one, two, three]])
    if len({*one, *two, *three}) == 1:
        assert found is None
        return
    assert found is not None
    assert found.statistic == pytest.approx(stats.kruskal(one, two, three).statistic, abs=1e-9)
    told = stats.permutation_test(
        (one, two, three), lambda *groups: stats.kruskal(*groups).statistic, n_resamples=np.inf, alternative="greater"
    )
    assert found.exact
    assert found.p == pytest.approx(told.pvalue, abs=1e-9)
    assert found.smallest_p <= found.p + 1e-12


@given(values, values, values, values)
def test_two_groups_in_strata_never_differ_from_the_exact_test_by_more_than_its_other_tail(
    one: list[float], two: list[float], three: list[float], four: list[float]
) -> None:
    strata = [(one, two), (three, four)]
    found, exact = several_groups(strata), exact_two_sample(strata)
    if found is not None:
        # both tails together, of which the exact test takes the smaller twice
        assert exact.p / 2 - 1e-12 <= found.p <= max(exact.p, 1.0)


def test_nothing_to_tell_apart_and_missing_values() -> None:
    assert several_groups([[[1.0, 2.0], []]]) is None
    assert several_groups([[[1.0], [1.0], [1.0]]]) is None
    with pytest.raises(AnalysisError, match="no missing values"):
        several_groups([[[1.0], [float("nan")]]])
    late = several_groups([[[1.0, 2.0], [float("inf"), float("inf")], [3.0]]])
    assert late is not None
    assert late.mean_ranks[1] > late.mean_ranks[2] > late.mean_ranks[0]
