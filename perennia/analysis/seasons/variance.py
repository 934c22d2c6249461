"""How much of the spread of repeated values lies between groups (plants), and how much between the values of a group.

The model is value = fixed effects + effect of the group + rest, group effects and rest normal and independent of one
another. Everything is a function of one unknown, the ratio of the two variances, so that REML is a search along one
line, from the ratio 0 itself on: the boundary is a point like any other, and nothing can fail to converge. For balanced
data REML is the analysis of variance (a negative estimate of which is 0 here).

Sources: Patterson and Thompson 1971, Biometrika 58: 545-554, doi:10.1093/biomet/58.3.545 (REML); Harville and Fenech
1985, Biometrics 41: 137-152, doi:10.2307/2530650, after Wald 1947 (the exact interval of the ratio for unbalanced
data; for balanced data it is the F interval); Robinson 1991, Statistical Science 6: 15-32, doi:10.1214/ss/1177011926
(shrunken effects); Spearman and Brown 1910 (the mean of several values).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import attrs
import numpy as np
import numpy.typing as npt
from scipy import optimize, stats

from perennia.analysis.permutation import Floats, Integers
from perennia.analysis.seasons.shrinkage import shrunken_effects
from perennia.errors import AnalysisError

_LARGEST_SHARE = 1 - 1e-9
"""Shares between groups are looked for up to here; beyond it they are 1."""
_NOTHING = 1e-18
"""A sum of squares below this part of the whole is rounding."""
_SAME = 1e-9
"""Likelihoods that differ by less than this are equal; of equal ones the smaller share between groups is taken."""


@attrs.frozen(kw_only=True, eq=False)
class VarianceShares:
    """Variances between and within groups, in the squared unit of the values, by REML.

    n_groups, n_repeated, n_values: groups, those with two values or more, and values.
    repeatability: between / (between + within), None where all values agree once fixed effects are taken off.
    low, high: its interval at level; None where there is none: where groups differ by less than the spread within them
    would bring about (empty is True), or where values do not vary within groups.
    effects: by group, how far it is off the mean, drawn towards 0 in so far as it is not well known.
    """

    n_groups: int
    n_repeated: int
    n_values: int
    between: float
    within: float
    repeatability: float | None
    low: float | None
    high: float | None
    level: float
    empty: bool
    effects: Mapping[Any, float]

    def of_mean(self, k: int) -> float | None:
        """Repeatability of the mean of k values a group (Spearman and Brown). Raises AnalysisError for k below 1."""
        if k < 1:
            raise AnalysisError(f"a mean is one of 1 value or more, not of {k}")
        if self.repeatability is None:
            return None
        return k * self.repeatability / (1 + (k - 1) * self.repeatability)


@attrs.frozen(eq=False)
class _Split:
    """The data parted into what lies within groups, reduced to a triangle, and the means of the groups.

    within: rows of fixed columns and value, their triangle. means: the same columns, a row a group. sizes: values a
    group. rest: sum of squares within groups that fixed effects leave. rest_df, between_df: degrees of freedom.
    columns: independent fixed columns.
    """

    within: Floats
    means: Floats
    sizes: Floats
    rest: float
    rest_df: int
    between_df: int
    columns: int

    def at(self, ratio: float) -> tuple[float, float]:
        """At a ratio of the variances: weighted sum of squares left, -2 log restricted likelihood."""
        weights = np.sqrt(self.sizes / (1 + ratio * self.sizes))
        triangle = _triangle(np.vstack([self.within, weights[:, None] * self.means]))
        size = self.columns
        left = float(triangle[size, size] ** 2)
        df = self.rest_df + self.between_df
        determinants = np.log1p(ratio * self.sizes).sum() + 2 * np.log(np.abs(np.diag(triangle)[:size])).sum()
        likelihood = df * np.log(left / df) + determinants if left > 0 else -np.inf
        return left, float(likelihood)

    def f_at(self, ratio: float) -> float:
        """Wald's F at a ratio: it falls as the ratio rises, and has the F distribution at the true one."""
        left = self.at(ratio)[0]
        return max(left - self.rest, 0.0) / self.between_df / (self.rest / self.rest_df)


def variance_components(
    values: npt.ArrayLike, groups: Sequence[Any], fixed: npt.ArrayLike | None = None, *, level: float = 0.95
) -> VarianceShares:
    """Variance between and within groups, the repeatability with its interval, and the shrunken effects of the groups.

    fixed: columns of numbers, a row a value, for what is to be taken off (level_columns makes them of names); a mean
    is always taken off. The interval is exact for normal values, balanced or not.

    Raises AnalysisError for a missing or infinite value, arrays of unequal length, a level outside (0, 1), a single
    group, no group with two values, or groups that the fixed effects leave nothing of.
    """
    named, split, whole = _prepared(values, groups, fixed, level)
    found: dict[str, Any] = {
        "n_groups": len(named), "n_repeated": int((split.sizes > 1).sum()), "n_values": int(split.sizes.sum()),
        "level": level, "low": None, "high": None, "empty": False,
    }  # fmt: skip
    if split.at(0.0)[0] <= _NOTHING * whole:
        nothing = dict.fromkeys(named, 0.0)
        return VarianceShares(between=0.0, within=0.0, repeatability=None, effects=nothing, **found)
    if split.rest <= _NOTHING * whole:
        ratio = _ratio(_LARGEST_SHARE)
        between = ratio * split.at(ratio)[0] / split.between_df
        effects = shrunken_effects(values, groups, fixed, ratio=ratio).effects
        return VarianceShares(between=between, within=0.0, repeatability=1.0, effects=effects, **found)
    share = _most_likely_share(split)
    ratio = _ratio(share)
    within = split.at(ratio)[0] / (split.rest_df + split.between_df)
    found["empty"], found["low"], found["high"] = _interval(split, level)
    effects = shrunken_effects(values, groups, fixed, ratio=ratio).effects
    return VarianceShares(between=ratio * within, within=within, repeatability=share, effects=effects, **found)


def level_columns(names: Sequence[Any]) -> Floats:
    """A column of 0 and 1 for each name but the first, a row an entry: what variance_components takes off."""
    levels = sorted(set(names), key=str)
    return np.array([[float(name == level) for level in levels[1:]] for name in names]).reshape(len(names), -1)


def _prepared(
    values: npt.ArrayLike, groups: Sequence[Any], fixed: npt.ArrayLike | None, level: float
) -> tuple[list[Any], _Split, float]:
    """The names of the groups, the data parted, and the sum of squares of all values about their mean."""
    y = np.asarray(values, dtype=np.float64).ravel()
    columns = np.empty((y.size, 0)) if fixed is None else np.asarray(fixed, dtype=np.float64).reshape(y.size, -1)
    if len(groups) != y.size:
        raise AnalysisError(f"{y.size} values need as many groups, here {len(groups)}")
    if not (np.isfinite(y).all() and np.isfinite(columns).all()):
        raise AnalysisError("variances take finite values only; leave the missing ones out and count them")
    if not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    number: dict[Any, int] = {}
    group = np.array([number.setdefault(name, len(number)) for name in groups], dtype=np.int64)
    if len(number) < 2:
        raise AnalysisError("one group alone has nothing to differ from; give values of two groups or more")
    y = y - y.mean()
    split = _split(y, group, len(number), _independent(np.column_stack([np.ones(y.size), columns])))
    if split.rest_df < 1:
        raise AnalysisError("no group has a second value that the fixed effects leave free; nothing shows the spread "
                            "within groups")  # fmt: skip
    if split.between_df < 1:
        raise AnalysisError("the fixed effects leave nothing of the groups; take fewer of them off")
    return list(number), split, float(y @ y)


def _independent(columns: Floats) -> Floats:
    """An orthonormal basis of what the columns span."""
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    basis: Floats = left[:, sizes > sizes[0] * max(columns.shape) * np.finfo(np.float64).eps]
    return basis


def _split(y: Floats, group: Integers, n_groups: int, fixed: Floats) -> _Split:
    table = np.column_stack([fixed, y])
    sizes = np.bincount(group, minlength=n_groups).astype(np.float64)
    sums = np.zeros((n_groups, table.shape[1]))
    np.add.at(sums, group, table)
    means = sums / sizes[:, None]
    within = table - means[group]
    rank = int(np.linalg.matrix_rank(within[:, :-1], tol=1e-9))
    explained, *_ = np.linalg.lstsq(within[:, :-1], within[:, -1], rcond=1e-9)
    rest = float(((within[:, -1] - within[:, :-1] @ explained) ** 2).sum())
    return _Split(
        within=_triangle(within), means=means, sizes=sizes, rest=rest,
        rest_df=y.size - n_groups - rank, between_df=n_groups - (fixed.shape[1] - rank), columns=fixed.shape[1],
    )  # fmt: skip


def _triangle(table: Floats) -> Floats:
    """The triangle R of the QR decomposition."""
    triangle: Floats = np.asarray(np.linalg.qr(table, mode="r"))
    return triangle


def _ratio(share: float) -> float:
    return share / (1 - share)


def _most_likely_share(split: _Split) -> float:
    """The share between groups with the largest restricted likelihood; it can have two peaks, so a grid comes first."""
    grid = np.concatenate([np.linspace(0, 0.98, 50), 1 - np.logspace(-2, -9, 15)])
    heights = [split.at(_ratio(share))[1] for share in grid]
    best = int(np.argmin(heights))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
    found = optimize.minimize_scalar(
        lambda share: split.at(_ratio(share))[1], bounds=(low, high), method="bounded", options={"xatol": 1e-10}
    )
    return float(found.x) if found.fun < heights[0] - _SAME else 0.0


def _interval(split: _Split, level: float) -> tuple[bool, float | None, float | None]:
    """Whether it is empty, and the shares whose F lies between the two tails."""
    tails = stats.f(split.between_df, split.rest_df)
    smallest, largest = (float(tails.ppf(tail)) for tail in ((1 - level) / 2, (1 + level) / 2))
    if split.f_at(0.0) < smallest:
        return True, None, None
    return False, _share_with_f(split, largest), _share_with_f(split, smallest)


def _share_with_f(split: _Split, f: float) -> float:
    if split.f_at(0.0) <= f:
        return 0.0
    if split.f_at(_ratio(_LARGEST_SHARE)) >= f:
        return 1.0
    return float(optimize.brentq(lambda share: split.f_at(_ratio(share)) - f, 0.0, _LARGEST_SHARE, xtol=1e-12))
