"""Do several groups differ at all? Ranks within strata, added up by group: Kruskal-Wallis and Friedman are cases of it.

With one stratum the statistic is Kruskal and Wallis's H, with one unit of each group in a stratum it is Friedman's
chi-square, both corrected for ties; in general it is the mean-score statistic of Landis, Heyman and Koch 1978, Int.
Stat. Rev. 46: 237-254. Its p is that of the permutation of units within their stratum.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis import permutation as perm
from perennia.analysis.exact import SEED
from perennia.analysis.permutation import Floats, Integers
from perennia.errors import AnalysisError

LISTED_AT_MOST = 20_000
"""Arrangements listed one by one before a seeded sample takes their place."""
_NEAR = 1e-9


@attrs.frozen
class SeveralGroups:
    """Outcome of one test of several groups.

    n: units in each group. statistic, freedom: the mean-score chi-square and its degrees of freedom. p: of a statistic
    at least as large among the arrangements. smallest_p: the smallest this layout could give. mean_ranks: the mean of
    each group's ranks as a share of their stratum, 0.5 being the middle. exact: whether every arrangement was counted.
    """

    n: tuple[int, ...]
    statistic: float
    freedom: int
    p: float
    smallest_p: float
    mean_ranks: tuple[float, ...]
    exact: bool


def several_groups(strata: Sequence[Sequence[npt.ArrayLike]], *, seed: int = SEED) -> SeveralGroups | None:
    """Whether groups differ; each stratum has the values of every group, in one order, empty where it has none.

    An infinite value lies above all others (see exact.exact_two_sample). None where nothing could differ: fewer than
    two groups share a stratum, or all values of each are tied. Raises AnalysisError for a missing value.
    """
    blocks = [block for stratum in strata if (block := _block(stratum)) is not None]
    if not blocks:
        return None
    groups = len(strata[0])
    covariance = sum((_covariance(block, groups) for block in blocks), np.zeros((groups, groups)))
    inverse = np.linalg.pinv(covariance, hermitian=True)
    freedom = int(np.linalg.matrix_rank(covariance, hermitian=True))
    if freedom == 0:
        return None
    arrangements, every = _arrangements(blocks, seed)
    expected = sum((_expected(block, groups) for block in blocks), np.zeros(groups))
    sums = sum(
        (_sums(labels, block.ranks, groups) for labels, block in zip(arrangements, blocks, strict=True)),
        np.zeros((len(arrangements[0]), groups)),
    )
    apart = sums - expected
    statistics = np.einsum("ag,gh,ah->a", apart, inverse, apart)
    as_large = float(np.mean(statistics >= statistics[0] * (1 - _NEAR)))
    n = tuple(int(sum((block.labels == group).sum() for block in blocks)) for group in range(groups))
    return SeveralGroups(
        n, float(statistics[0]), freedom, as_large, _smallest(statistics, every, blocks), _mean_ranks(blocks, groups),
        every,
    )  # fmt: skip


@attrs.frozen(eq=False)
class _Block:
    """One stratum: the mid-ranks of its units and the group of each."""

    ranks: Floats
    labels: Integers


def _block(stratum: Sequence[npt.ArrayLike]) -> _Block | None:
    sides = [np.asarray(side, dtype=np.float64).ravel() for side in stratum]
    values = np.concatenate(sides)
    if np.isnan(values).any():
        raise AnalysisError("a test takes no missing values; leave them out and count them")
    labels = np.repeat(np.arange(len(sides)), [side.size for side in sides])
    if np.unique(labels).size < 2:
        return None
    scale = float(np.abs(values[np.isfinite(values)]).max(initial=0.0))
    return _Block(perm.doubled_midranks(values, scale) / 2, labels)


def _expected(block: _Block, groups: int) -> Floats:
    return np.asarray(np.bincount(block.labels, minlength=groups) * block.ranks.mean(), dtype=np.float64)


def _covariance(block: _Block, groups: int) -> Floats:
    sizes, of = np.bincount(block.labels, minlength=groups).astype(np.float64), block.ranks.size
    spread = float(block.ranks.var(ddof=1))
    return np.asarray(spread * (np.diag(sizes) - np.outer(sizes, sizes) / of), dtype=np.float64)


def _sums(labels: Integers, ranks: Floats, groups: int) -> Floats:
    sums: Floats = np.stack([(labels == group) @ ranks for group in range(groups)], axis=1)
    return sums


def _arrangements(blocks: Sequence[_Block], seed: int) -> tuple[list[Integers], bool]:
    """The groups of the units of each block, an arrangement a row, the one seen first; whether they are all."""
    if _count(blocks) <= LISTED_AT_MOST:
        parts = [_all_labels(block.labels) for block in blocks]
        rows = np.indices([len(part) for part in parts]).reshape(len(parts), -1)
        return [part[row] for part, row in zip(parts, rows, strict=True)], True
    random = np.random.default_rng(seed)
    drawn = [
        np.concatenate([block.labels[None, :], random.permuted(np.tile(block.labels, (perm.DRAWS, 1)), axis=1)])
        for block in blocks
    ]
    return drawn, False


def _count(blocks: Sequence[_Block]) -> int:
    return math.prod(
        math.factorial(block.labels.size) // math.prod(map(math.factorial, np.bincount(block.labels).tolist()))
        for block in blocks
    )


def _all_labels(seen: Integers) -> Integers:
    """Every way to give the units of a block their groups, a row each, the one seen first."""
    left = np.bincount(seen)[None, :]
    rows = np.zeros((1, 0), dtype=np.int64)
    for place in range(seen.size):
        # the group seen at this place goes first, so that the first row is the arrangement that was seen
        order = [int(seen[place]), *(group for group in range(left.shape[1]) if group != seen[place])]
        taken = [(group, left[:, group] > 0) for group in order]
        rows = np.concatenate(
            [np.column_stack([rows[has], np.full(int(has.sum()), group)]) for group, has in taken]
        )
        left = np.concatenate([left[has] - (np.arange(left.shape[1]) == group) for group, has in taken])
    return rows


def _smallest(statistics: Floats, every: bool, blocks: Sequence[_Block]) -> float:
    """Of all arrangements, the share that is as far out as the farthest; of a sample, what one of all could be."""
    if every:
        return float(np.mean(statistics >= statistics.max() * (1 - _NEAR)))
    return 1 / min(_count(blocks), perm.DRAWS + 1)


def _mean_ranks(blocks: Sequence[_Block], groups: int) -> tuple[float, ...]:
    shares = np.concatenate([(block.ranks - 0.5) / block.ranks.size for block in blocks])
    labels = np.concatenate([block.labels for block in blocks])
    return tuple(
        float(shares[labels == group].mean()) if (labels == group).any() else math.nan for group in range(groups)
    )
