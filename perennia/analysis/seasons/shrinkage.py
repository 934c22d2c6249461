"""What the groups (plants) of repeated values will show next: their effects, drawn towards 0 in so far as they are not
well known, and the error with which they predict.

The model is that of variance.py, value = fixed effects + effect of the group + rest, at a given ratio of the variances
between and within groups. It is solved by least squares after every value has been moved towards the mean of its group
so far that those of one group are independent.

Sources: Henderson 1975, Biometrics 31: 423-447, doi:10.2307/2529430 (best linear unbiased prediction, and that it holds
where what is seen later was chosen by what had been seen before); Robinson 1991, Statistical Science 6: 15-32,
doi:10.1214/ss/1177011926; Prasad and Rao 1990, JASA 85: 163-171, doi:10.1080/01621459.1990.10475320 (the error of
prediction in its two parts: that of the effect, and that of what was taken off).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError


@attrs.frozen(kw_only=True, eq=False)
class Expected:
    """What a group is expected to show under given fixed effects.

    mean: in the unit of the values. from_effect, from_fixed: variances of its error, what is not known of the effect of
    the group and what is not known of the fixed effects, in the squared unit; a single further value is off by the
    variance within groups besides.
    """

    mean: float
    from_effect: float
    from_fixed: float


@attrs.frozen(kw_only=True, eq=False)
class Shrunken:
    """Groups with their effects, drawn towards 0.

    effects: by group. between, within: variances between and within groups in the squared unit of the values.
    residual_df: values less independent fixed effects. fixed: the fixed effects, the mean first, of which only
    differences mean something where columns depend on one another.
    """

    effects: Mapping[Any, float]
    between: float
    within: float
    residual_df: int
    fixed: Floats
    _spread: Floats
    _sizes: Mapping[Any, int]
    _means: Mapping[Any, Floats]

    def expected(self, group: Any, at: Sequence[float]) -> Expected:
        """What a group, or one that has no value yet, is expected to show under fixed effects at these columns."""
        where = np.concatenate([[1.0], np.asarray(at, dtype=np.float64)])
        size = self._sizes.get(group, 0)
        known = size * self.between / (self.within + size * self.between) if self.within + self.between > 0 else 1.0
        off = where - known * self._means[group] if group in self._means else where
        return Expected(
            mean=float(where @ self.fixed) + self.effects.get(group, 0.0),
            from_effect=(1 - known) * self.between,
            from_fixed=self.within * float(off @ self._spread @ off),
        )

    def error_of(self, difference: Sequence[float] | Floats) -> float:
        """The standard error of a difference in fixed effects, given as one of the columns."""
        off = np.concatenate([[0.0], np.asarray(difference, dtype=np.float64)])
        return math.sqrt(self.within * float(off @ self._spread @ off))


def shrunken_effects(
    values: npt.ArrayLike, groups: Sequence[Any], fixed: npt.ArrayLike | None = None, *, ratio: float
) -> Shrunken:
    """The effects of groups at a ratio of the variances between and within them, with what predicts a further value.

    fixed: columns of numbers, a row a value, for what is to be taken off; a mean is always taken off. ratio: 0 or more;
    the repeatability is ratio / (1 + ratio). The variance within groups is estimated at that ratio.

    Raises AnalysisError for a ratio that is none, values that are missing, arrays of unequal length, or fixed effects
    that leave nothing.
    """
    y = np.asarray(values, dtype=np.float64).ravel()
    columns = np.empty((y.size, 0)) if fixed is None else np.asarray(fixed, dtype=np.float64).reshape(y.size, -1)
    if len(groups) != y.size:
        raise AnalysisError(f"{y.size} values need as many groups, here {len(groups)}")
    if not (np.isfinite(y).all() and np.isfinite(columns).all()):
        raise AnalysisError("shrunken effects take finite values only; leave the missing ones out and count them")
    if not 0 <= ratio < np.inf:
        raise AnalysisError(f"ratio {ratio!r} is no ratio of two variances; it is 0 or more")
    number: dict[Any, int] = {}
    group = np.array([number.setdefault(name, len(number)) for name in groups], dtype=np.int64)
    sizes = np.bincount(group, minlength=len(number)).astype(np.float64)
    table = np.column_stack([np.ones(y.size), columns])
    means = _means(table, group, sizes)
    shift = float(y.mean()) if y.size else 0.0
    towards = 1 - 1 / np.sqrt(1 + ratio * sizes)
    left, lengths, right = np.linalg.svd(table - (towards[:, None] * means)[group], full_matrices=False)
    kept = lengths > lengths[0] * max(table.shape) * np.finfo(np.float64).eps if y.size else np.zeros(0, dtype=bool)
    residual_df = y.size - int(kept.sum())
    if residual_df < 1:
        raise AnalysisError("the fixed effects leave nothing of the values; take fewer of them off")
    basis = right[kept].T / lengths[kept]
    centred = y - shift
    moved = centred - (towards * _means(centred[:, None], group, sizes)[:, 0])[group]
    found = basis @ (left[:, kept].T @ moved)
    rest = moved - left[:, kept] @ (left[:, kept].T @ moved)
    within = float(rest @ rest) / residual_df
    off = _means((centred - table @ found)[:, None], group, sizes)[:, 0]
    # 0 is added so that no effect is -0
    drawn = ratio * sizes / (1 + ratio * sizes) * off + 0.0
    # the mean is among what the columns span, so that adding the shift to the first moves every value alike
    found[0] += shift
    return Shrunken(
        effects=dict(zip(number, drawn.tolist(), strict=True)), between=ratio * within, within=within,
        residual_df=residual_df, fixed=found, spread=basis @ basis.T,
        sizes={name: int(sizes[place]) for name, place in number.items()},
        means={name: means[place] for name, place in number.items()},
    )  # fmt: skip


def _means(table: Floats, group: npt.NDArray[np.int64], sizes: Floats) -> Floats:
    """The means of the columns, a row a group."""
    sums = np.zeros((sizes.size, table.shape[1]))
    np.add.at(sums, group, table)
    means: Floats = sums / sizes[:, None]
    return means
