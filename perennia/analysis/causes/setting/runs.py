"""Runs along a truss: do flowers that set and flowers that failed stand together more, or less, than chance has it?

The number of runs of n1 and n2 of two kinds in any order has an exact distribution (Wald and Wolfowitz 1940, Ann. Math.
Stat. 11: 147-162; tabled by Swed and Eisenhart 1943, Ann. Math. Stat. 14: 66-87).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import attrs
import numpy as np
from scipy import stats

from perennia.analysis.permutation import Floats


@attrs.frozen
class RunsTest:
    """The runs of several sequences together, each shuffled within itself. expected: their mean so; p: two-sided, twice
    the smaller tail; smallest_p: the smallest these numbers could give; sequences: those with both kinds."""

    runs: int
    expected: float
    p: float
    smallest_p: float
    sequences: int


def count_runs(sequence: Sequence[bool]) -> int:
    """How often the kind changes along a sequence, and one."""
    return 1 + sum(one != other for one, other in pairwise(sequence)) if sequence else 0


def runs_distribution(n1: int, n2: int) -> Floats:
    """The chance of 0, 1, 2 ... runs of n1 of one kind and n2 of the other in any order."""
    chances = np.zeros(2 * min(n1, n2) + 2)
    if not n1 or not n2:
        chances[1 if n1 or n2 else 0] = 1.0
        return chances
    ways = math.comb(n1 + n2, n1)
    for half in range(1, min(n1, n2) + 1):
        of_both = math.comb(n1 - 1, half - 1) * math.comb(n2 - 1, half - 1)
        chances[2 * half] = 2 * of_both / ways
        one_more = math.comb(n1 - 1, half - 1) * math.comb(n2 - 1, half)
        other_more = math.comb(n1 - 1, half) * math.comb(n2 - 1, half - 1)
        chances[2 * half + 1] = (one_more + other_more) / ways
    return chances


def runs_limits(n1: int, n2: int, level: float = 0.95) -> tuple[int | None, int | None]:
    """The number of runs at or below which, and at or above which, there are too few or too many, two-sided; None
    where no number is."""
    chances = runs_distribution(n1, n2)
    tail = (1 - level) / 2 * (1 + 1e-12)
    few = np.flatnonzero((np.cumsum(chances) <= tail) & (chances > 0))
    many = np.flatnonzero((np.cumsum(chances[::-1])[::-1] <= tail) & (chances > 0))
    return (int(few[-1]) if few.size else None, int(many[0]) if many.size else None)


def runs_z(sequence: Sequence[bool]) -> tuple[float, float] | None:
    """The normal approximation without a correction for continuity, and its two-sided p; None where nothing varies."""
    n1, n2 = sum(sequence), len(sequence) - sum(sequence)
    total = n1 + n2
    if not n1 or not n2 or total < 3:
        return None
    mean = 2 * n1 * n2 / total + 1
    variance = 2 * n1 * n2 * (2 * n1 * n2 - total) / (total**2 * (total - 1))
    z = (count_runs(sequence) - mean) / math.sqrt(variance)
    return z, float(2 * stats.norm.sf(abs(z)))


def runs_together(sequences: Sequence[Sequence[bool]]) -> RunsTest | None:
    """The runs of all sequences added up, exact, each sequence shuffled within itself; None without one of both kinds.

    It takes the flowers of a truss as alike but for their order: days that differ, or a falling trend along the truss,
    make runs long as well.
    """
    mixed = [sequence for sequence in sequences if 0 < sum(sequence) < len(sequence)]
    if not mixed:
        return None
    chances = np.ones(1)
    for sequence in mixed:
        chances = np.convolve(chances, runs_distribution(sum(sequence), len(sequence) - sum(sequence)))
    runs = sum(count_runs(sequence) for sequence in mixed)
    possible = np.flatnonzero(chances > 0)
    lower, upper = np.cumsum(chances), np.cumsum(chances[::-1])[::-1]
    p = min(1.0, 2 * float(min(lower[runs], upper[runs])))
    smallest = min(1.0, 2 * float(min(lower[possible[0]], upper[possible[-1]])))
    return RunsTest(runs, float(chances @ np.arange(chances.size)), p, smallest, len(mixed))
