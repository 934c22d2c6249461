"""How many units an arm a trial needs: the smallest whole number whose test reaches the power wanted."""

from __future__ import annotations

import math
from collections.abc import Callable

import attrs

from perennia.analysis.decisions.trials.power import PlannedTest, Power, Sizes, Truth, simulated_power, smallest_p
from perennia.analysis.decisions.trials.power_theory import units_for_t
from perennia.analysis.exact import SEED
from perennia.errors import AnalysisError

MOST_UNITS = 1_000
"""Units an arm beyond which no plan is made."""
_ONE_BY_ONE = 40
"""Up to so many sets every number is tried in turn; beyond, the search halves."""


@attrs.frozen
class Needed:
    """The smallest number of sets that reaches the power, a set being the fewest plants with the arms in proportion."""

    sets: int
    sizes: Sizes
    power: Power


def sets_needed(
    sizes_of: Callable[[int], Sizes],
    allocation: tuple[int, int],
    difference: float,
    wanted: float,
    truth: Truth,
    test: PlannedTest,
    *,
    reach: float = 0.05,
    seed: int = SEED,
    simulations: int | None = None,
) -> Needed | None:
    """The smallest number of sets whose test has the power wanted; None beyond MOST_UNITS of the larger arm.

    sizes_of: the blocks that so many sets lie in. A layout whose smallest p is above reach, or above the test's own
    alpha, is passed over whatever its power. The search begins at the number of the t test.

    Raises AnalysisError for a difference of 0.
    """
    if difference == 0:
        raise AnalysisError("a difference of 0 cannot be planned for; give the smallest one that matters to you")
    most = MOST_UNITS // max(allocation)

    def tried(sets: int) -> Needed | None:
        sizes = sizes_of(sets)
        if smallest_p(sizes) > min(reach, test.alpha) * (1 + 1e-9):
            return None
        power = simulated_power(sizes, difference, truth, test, seed=seed, simulations=simulations)
        return Needed(sets, sizes, power) if power.power >= wanted else None

    begin = _by_theory(allocation, difference, wanted, truth, test)
    if begin is None or begin > 2 * most:
        return None
    if begin <= _ONE_BY_ONE:
        return _one_by_one(tried, max(1, begin // 2), most)
    return _halving(tried, min(begin, most), most)


def _by_theory(
    allocation: tuple[int, int], difference: float, wanted: float, truth: Truth, test: PlannedTest
) -> int | None:
    try:
        units = units_for_t(difference / truth.sd, wanted, alpha=test.alpha, allocation=allocation[1] / allocation[0])
    except AnalysisError:
        return None
    return max(1, math.ceil(units / allocation[0]))


def _one_by_one(tried: Callable[[int], Needed | None], begin: int, most: int) -> Needed | None:
    found = None
    for sets in range(begin, most + 1):
        found = tried(sets)
        if found is not None:
            break
    return _no_smaller(tried, found)


def _halving(tried: Callable[[int], Needed | None], begin: int, most: int) -> Needed | None:
    low, high, found = 0, begin, tried(begin)
    while found is None and high < most:
        low, high = high, min(most, math.ceil(high * 1.1))
        found = tried(high)
    if found is None:
        return None
    low = max(low, high // 2 if low == 0 else low)
    while high - low > 1:
        middle = (low + high) // 2
        better = tried(middle)
        low, high, found = (middle, high, found) if better is None else (low, middle, better)
    return _no_smaller(tried, found)


def _no_smaller(tried: Callable[[int], Needed | None], found: Needed | None) -> Needed | None:
    """The number found, or one below it that will do as well."""
    while found is not None and found.sets > 1:
        smaller = tried(found.sets - 1)
        if smaller is None:
            break
        found = smaller
    return found
