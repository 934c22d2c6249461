"""Null distributions of a sum of scores, for the exact tests: all arrangements of a layout, or a seeded sample of them.

A two-arm layout is a list of strata with n of N scores in the first arm; a paired layout is a list of scores whose
signs may turn. Integer scores (doubled mid-ranks) are counted by dynamic programming, so that thirty against thirty is
exact; real scores are listed arrangement by arrangement.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Sequence

import attrs
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Booleans = npt.NDArray[np.bool_]

LISTED_AT_MOST = 200_000
"""Arrangements listed one by one before a seeded sample takes their place."""
COUNTED_AT_MOST = 30_000_000
"""Additions spent on counting integer sums before a seeded sample takes their place (about 45 against 45)."""
DRAWS = 9_999
"""Size of the seeded sample."""
TIE = 1e-12
"""Values closer than this share of the largest value are tied: floating-point noise is not a difference."""

_ROWS_AT_ONCE = 1_000
_READY_AT_MOST = 25_000_000
"""Places of masks kept as numbers between sums (200 MB), where turning them into numbers takes most of the time."""
_WHOLE_NUMBERS = 2**53
"""Up to here a float counts without rounding; beyond it shares are added instead."""


@attrs.frozen(eq=False)
class Distribution:
    """The null distribution of an integer sum: lower[t] = P(sum <= t), upper[t] = P(sum >= t)."""

    lower: Floats
    upper: Floats


def doubled_midranks(values: Floats, scale: float) -> Integers:
    """Twice the mid-rank of each value, so that ties stay whole numbers; values within TIE * scale are tied, and so are
    infinite ones of one sign."""
    order = np.argsort(values, kind="stable")
    ordered = values[order]
    with np.errstate(invalid="ignore"):
        # two infinite values are tied: their difference is no number, and no more than any
        opens = np.concatenate([[True], np.diff(ordered) > TIE * scale])
    group = np.cumsum(opens) - 1
    first = np.flatnonzero(opens)
    last = np.append(first[1:], values.size) - 1
    ranks = np.empty(values.size, dtype=np.int64)
    ranks[order] = (first + last + 2)[group]
    return ranks


def two_arm_arrangements(sizes: Sequence[tuple[int, int]]) -> int:
    """Ways to choose the first arm within every stratum; sizes are (first arm, second arm)."""
    return math.prod(math.comb(first + second, first) for first, second in sizes)


def countable_two_arm(sizes: Sequence[tuple[int, int]]) -> bool:
    """Whether two_arm_distribution stays within COUNTED_AT_MOST."""
    return sum((a + b) * min(a, b) * (a + b) * (a + b + 1) for a, b in sizes) <= COUNTED_AT_MOST


def countable_paired(pairs: int) -> bool:
    """Whether paired_distribution stays within COUNTED_AT_MOST."""
    return pairs * pairs * (pairs + 1) <= COUNTED_AT_MOST


@functools.lru_cache(maxsize=128)
def two_arm_distribution(strata: tuple[tuple[int, tuple[int, ...]], ...]) -> Distribution:
    """Distribution of the first arm's sum of scores, added up over the strata.

    strata holds (size of the first arm, whole scores of both arms) for each stratum.
    """
    every = math.prod(math.comb(len(scores), chosen) for chosen, scores in strata)
    whole = every <= _WHOLE_NUMBERS
    # sums come in steps from the smallest on: to count the places between them too would take many times as long
    smallest = sum(chosen * min(scores) for chosen, scores in strata)
    step = math.gcd(*(score - min(scores) for _, scores in strata for score in scores)) or 1
    total = np.ones(1)
    for chosen, scores in strata:
        counts = _subset_sums(chosen, tuple((score - min(scores)) // step for score in scores))
        total = np.convolve(total, counts if whole else counts / math.comb(len(scores), chosen))
    ways = np.zeros(smallest + step * (total.size - 1) + 1)
    ways[smallest::step] = total
    return _distribution(ways, every if whole else 1)


def _subset_sums(chosen: int, scores: tuple[int, ...]) -> Floats:
    """Number of ways to each sum of `chosen` scores, no score twice.

    The shift algorithm of Pagano and Tritchler 1983, J. Am. Stat. Assoc. 78: 435-440, doi:10.2307/2288653.
    """
    counts = np.zeros((chosen + 1, sum(sorted(scores)[len(scores) - chosen :]) + 1))
    counts[0, 0] = 1.0
    width = counts.shape[1]
    for taken, score in enumerate(scores):
        top = min(chosen, taken + 1)
        if score < width:
            counts[1 : top + 1, score:] += counts[:top, : width - score].copy()
    return np.asarray(counts[chosen], dtype=np.float64)


@functools.lru_cache(maxsize=128)
def paired_distribution(scores: tuple[int, ...]) -> Distribution:
    """Distribution of the sum of the scores whose sign falls positive, each with chance one half."""
    total = np.zeros(sum(scores) + 1)
    total[0] = 1.0
    for score in scores:
        turned = np.zeros_like(total)
        turned[score:] = total[: total.size - score]
        total = (total + turned) / 2.0
    return _distribution(total, 1)


def _distribution(ways: Floats, of: int) -> Distribution:
    return Distribution(
        lower=np.minimum(np.cumsum(ways) / of, 1.0),
        upper=np.minimum(np.cumsum(ways[::-1])[::-1] / of, 1.0),
    )


def two_arm_masks(sizes: Sequence[tuple[int, int]], seed: int) -> tuple[Booleans, bool]:
    """Arrangements as rows, True where a unit falls in the first arm, and whether they are all there are.

    Columns are the strata one after the other, the first arm's own units leading in each. A seeded sample has the
    arrangement that was seen as its first row.
    """
    every = two_arm_arrangements(sizes) <= LISTED_AT_MOST
    blocks: list[Booleans] = []
    if every:
        parts = [_all_choices(first, first + second) for first, second in sizes]
        rows = np.indices([part.shape[0] for part in parts]).reshape(len(parts), -1)
        blocks = [part[row] for part, row in zip(parts, rows, strict=True)]
    else:
        random = np.random.default_rng(seed)
        for first, second in sizes:
            place = np.argsort(random.random((DRAWS, first + second)), axis=1)
            seen = np.arange(first + second)[None, :] < first
            blocks.append(np.concatenate([seen, place < first]))
    return np.concatenate(blocks, axis=1), every


def _all_choices(chosen: int, of: int) -> Booleans:
    """Every choice of `chosen` places of `of`, a row each; the first row takes the leading places."""
    rows = np.zeros((1, 0), dtype=np.bool_)
    for place in range(of):
        taken = rows.sum(axis=1)
        left = of - place
        take = rows[taken < chosen]
        leave = rows[chosen - taken < left]
        rows = np.concatenate(
            [
                np.concatenate([take, np.ones((take.shape[0], 1), dtype=np.bool_)], axis=1),
                np.concatenate([leave, np.zeros((leave.shape[0], 1), dtype=np.bool_)], axis=1),
            ]
        )
    # built up, the choice that takes the leading places comes last
    return rows[::-1]


def turned_masks(pairs: int, seed: int) -> tuple[Booleans, bool]:
    """Arrangements of paired signs as rows, True where a pair is turned round, and whether they are all there are.

    The first row turns none.
    """
    if 2**pairs <= LISTED_AT_MOST:
        numbers = np.arange(2**pairs, dtype=np.int64)
        return (numbers[:, None] >> np.arange(pairs)) & 1 == 1, True
    drawn = np.random.default_rng(seed).random((DRAWS, pairs)) < 0.5
    return np.concatenate([np.zeros((1, pairs), dtype=np.bool_), drawn]), False


def ready(masks: Booleans) -> Booleans | Floats:
    """The masks for many row_sums: as numbers, unless they would fill the memory."""
    return masks.astype(np.float64) if masks.size <= _READY_AT_MOST else masks


def row_sums(masks: Booleans | Floats, values: Floats) -> Floats:
    """Sum of the values under each row's mask, a thousand rows at a time to spare memory."""
    parts = [masks[start : start + _ROWS_AT_ONCE] @ values for start in range(0, masks.shape[0], _ROWS_AT_ONCE)]
    return np.concatenate(parts)


Tails = Callable[[float], tuple[float, float]]
"""From a null value to (chance of a sum at least as large, chance of a sum at least as small) as the one seen."""


def sampled_tails(sums: Floats) -> tuple[float, float]:
    """Tails of the first sum among all: (b + 1) / (m + 1) where the first is what was seen."""
    near = TIE * max(1.0, float(np.abs(sums).max()))
    return float(np.mean(sums >= sums[0] - near)), float(np.mean(sums <= sums[0] + near))
