"""Variance components: laws, a dense-matrix oracle of the likelihood and of the interval, and refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from perennia.analysis.seasons.variance import VarianceShares, level_columns, variance_components
from perennia.errors import AnalysisError

Data = tuple[np.ndarray, np.ndarray, np.ndarray]


@st.composite
def unbalanced(draw: st.DrawFn) -> Data:
    """Values, groups and seasons of 3 to 7 groups in 2 to 4 seasons, some missing."""
    random = np.random.default_rng(draw(st.integers(0, 10_000)))
    n_groups, n_seasons = draw(st.integers(3, 7)), draw(st.integers(2, 4))
    group, season = np.repeat(np.arange(n_groups), n_seasons), np.tile(np.arange(n_seasons), n_groups)
    spread = draw(st.sampled_from([0.0, 0.5, 1.0, 4.0]))
    values = 50 + random.normal(0, spread, n_groups)[group] + random.normal(0, 1, group.size) + season
    kept = random.random(group.size) < draw(st.sampled_from([0.6, 0.8, 1.0]))
    kept[:n_seasons] = True  # one group has every season
    kept[n_seasons : 2 * n_seasons] = True
    return values[kept], group[kept], season[kept]


def shares(data: Data, **options: Any) -> VarianceShares:
    values, group, season = data
    return variance_components(values, list(group), level_columns(list(season)), **options)


def dense(data: Data, ratio: float) -> tuple[float, float]:
    """-2 log restricted likelihood and Wald's F at a ratio of the variances, by the textbook with whole matrices."""
    values, group, season = data
    x = np.column_stack([np.ones(values.size), level_columns(list(season))])
    z = np.array([[float(entry == name) for name in np.unique(group)] for entry in group])
    v = np.eye(values.size) + ratio * z @ z.T
    inverse = np.linalg.inv(v)
    information = x.T @ inverse @ x
    p = inverse - inverse @ x @ np.linalg.inv(information) @ x.T @ inverse
    left, df = float(values @ p @ values), values.size - np.linalg.matrix_rank(x)
    likelihood = df * np.log(left / df) + np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
    both = np.column_stack([x, z])
    rest = float(((values - both @ np.linalg.lstsq(both, values, rcond=None)[0]) ** 2).sum())
    rest_df = values.size - np.linalg.matrix_rank(both)
    between_df = df - rest_df
    return float(likelihood), (left - rest) / between_df / (rest / rest_df)


def tails(data: Data, level: float) -> tuple[float, float]:
    values, group, season = data
    x = np.column_stack([np.ones(values.size), level_columns(list(season))])
    z = np.array([[float(entry == name) for name in np.unique(group)] for entry in group])
    rest_df = values.size - np.linalg.matrix_rank(np.column_stack([x, z]))
    f = stats.f(values.size - np.linalg.matrix_rank(x) - rest_df, rest_df)
    return float(f.ppf((1 - level) / 2)), float(f.ppf((1 + level) / 2))


@given(unbalanced())
def test_no_other_share_is_more_likely(data: Data) -> None:
    found = shares(data)
    assert found.repeatability is not None
    assert found.repeatability < 1
    best = dense(data, found.repeatability / (1 - found.repeatability))[0]
    for share in np.linspace(0, 0.99, 67):
        assert best <= dense(data, share / (1 - share))[0] + 1e-6


@given(unbalanced(), st.sampled_from([0.8, 0.95]))
def test_the_interval_holds_the_shares_between_the_tails_of_wald(data: Data, level: float) -> None:
    found = shares(data, level=level)
    smallest, largest = tails(data, level)
    at_zero = dense(data, 0.0)[1]
    if found.empty:
        assert at_zero < smallest
        assert found.low is None
        assert found.high is None
        return
    assert found.low is not None
    assert found.high is not None
    assert 0 <= found.low <= found.high <= 1
    assert dense(data, found.high / (1 - found.high))[1] == pytest.approx(smallest, rel=1e-5)
    if found.low == 0:
        assert at_zero <= largest
    else:
        assert dense(data, found.low / (1 - found.low))[1] == pytest.approx(largest, rel=1e-5)


@given(unbalanced(), st.floats(-1e4, 1e4), st.sampled_from([0.01, 3.0, 250.0]))
def test_a_shift_or_another_unit_changes_no_share(data: Data, shift: float, scale: float) -> None:
    before, after = shares(data), shares((shift + scale * data[0], *data[1:]))
    assert after.repeatability == pytest.approx(before.repeatability, abs=1e-4)
    assert after.within == pytest.approx(before.within * scale**2, rel=1e-3)
    assert (after.low, after.high) == (pytest.approx(before.low, abs=1e-5), pytest.approx(before.high, abs=1e-5))


@given(unbalanced())
def test_the_order_of_the_values_is_no_matter(data: Data) -> None:
    order = np.random.default_rng(3).permutation(data[0].size)
    before, after = shares(data), shares((data[0][order], data[1][order], data[2][order]))
    assert after.repeatability == pytest.approx(before.repeatability, abs=1e-5)
    assert after.effects == pytest.approx(before.effects, abs=1e-3)


@given(st.integers(0, 10_000), st.integers(3, 8), st.integers(2, 5))
def test_balanced_is_the_analysis_of_variance(seed: int, n_groups: int, n_seasons: int) -> None:
    random = np.random.default_rng(seed)
    table = random.normal(0, 1, (n_groups, n_seasons)) + random.normal(0, 0.7, (n_groups, 1))
    group, season = np.repeat(np.arange(n_groups), n_seasons), np.tile(np.arange(n_seasons), n_groups)
    found = shares((table.ravel(), group, season))
    deviation = table.mean(axis=1) - table.mean()
    between_ms = n_seasons * (deviation**2).sum() / (n_groups - 1)
    residual = table - table.mean(axis=0) - deviation[:, None]
    within_ms = (residual**2).sum() / ((n_groups - 1) * (n_seasons - 1))
    if between_ms <= within_ms:
        assert (found.between, found.repeatability) == (0.0, 0.0)
        pooled = (between_ms + (n_seasons - 1) * within_ms) / n_seasons
        assert found.within == pytest.approx(pooled, rel=1e-6)
        return
    between = (between_ms - within_ms) / n_seasons
    assert found.within == pytest.approx(within_ms, rel=1e-5)
    assert found.between == pytest.approx(between, rel=1e-4, abs=1e-6)
    drawn = n_seasons * between / (n_seasons * between + within_ms)
    assert [found.effects[i] for i in range(n_groups)] == pytest.approx(list(drawn * deviation), abs=1e-5)


@given(unbalanced(), st.integers(1, 9))
def test_a_mean_of_more_values_is_more_repeatable(data: Data, k: int) -> None:
    found = shares(data)
    one, more = found.of_mean(k), found.of_mean(k + 1)
    assert one is not None
    assert more is not None
    assert one <= more <= 1


def test_groups_that_never_vary_are_told_apart_wholly() -> None:
    found = variance_components([1, 1, 2, 2, 4.5, 4.5], list("aabbcc"))
    assert (found.within, found.repeatability, found.low, found.empty) == (0.0, 1.0, None, False)
    assert found.between == pytest.approx(np.var([1, 2, 4.5], ddof=1))
    assert found.effects == pytest.approx({"a": -1.5, "b": -0.5, "c": 2.0}, abs=1e-6)


def test_values_all_alike_have_no_repeatability() -> None:
    found = variance_components([3.3] * 6, list("aabbcc"))
    assert (found.between, found.within, found.repeatability, found.of_mean(3)) == (0.0, 0.0, None, None)


def test_a_season_like_the_others_is_taken_off() -> None:
    """Seasons that lie far apart would drown the plants, were they not taken off."""
    data = (np.array([10.0, 1010, 20, 1021, 30, 1029]), np.array([0, 0, 1, 1, 2, 2]), np.array([0, 1] * 3))
    assert shares(data).repeatability == pytest.approx(0.98, abs=0.02)
    assert variance_components(data[0], list(data[1])).repeatability == 0.0


@pytest.mark.parametrize(
    ("values", "groups", "fixed", "says"),
    [
        ([1.0, 2.0], ["a", "a"], None, "one group alone has nothing to differ from"),
        ([], [], None, "one group alone has nothing to differ from"),
        ([1.0, 2.0], ["a", "b"], None, "no group has a second value"),
        ([1.0, 2.0, np.nan], ["a", "a", "b"], None, "finite values only"),
        ([1.0, 2.0, 3.0], ["a", "a"], None, "3 values need as many groups, here 2"),
        ([1.0, 2.0, 3.0, 4.0], ["a", "a", "b", "b"], [0, 0, 1, 1], "leave nothing of the groups"),
    ],
)
def test_what_cannot_be_asked_is_refused(values: Any, groups: Any, fixed: Any, says: str) -> None:
    with pytest.raises(AnalysisError, match=says):
        variance_components(values, groups, fixed)


def test_levels_and_means_out_of_range_are_refused() -> None:
    with pytest.raises(AnalysisError, match="level 1 is not between 0 and 1"):
        variance_components([1, 2, 3, 5], list("aabb"), level=1)
    with pytest.raises(AnalysisError, match="1 value or more, not of 0"):
        variance_components([1, 2, 3, 5], list("aabb")).of_mean(0)


def test_a_wider_level_is_a_wider_interval() -> None:
    values, groups = [1.0, 2, 4, 5, 9, 8, 3, 3.5], list("aabbccdd")
    narrow, wide = (variance_components(values, groups, level=level) for level in (0.8, 0.99))
    assert narrow.low is not None
    assert narrow.high is not None
    assert wide.low is not None
    assert wide.high is not None
    assert wide.low < narrow.low < narrow.high < wide.high
