"""Power of the permutation tests of two arms in blocks, by simulation with fixed seeds.

Many trials are drawn from a stated truth and each is put to the very test that exact.py makes of it: rank sums held
against their counted distribution, or sums of the values against their arrangements. The same random numbers serve
every difference asked of a layout, so that power rises smoothly with it. Where arrangements are too many to count, the
rank sum is held against the normal distribution of its mean and variance (Lehmann 1975, Nonparametrics, chapter 1); of
the values' arrangements a seeded part is looked at.

Equivalence is two one-sided tests: both "the arm is ahead by the margin" and "behind by the margin" must fall
(Schuirmann 1987, J. Pharmacokinet. Biopharm. 15: 657-680, doi:10.1007/BF01068419).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Literal, cast

import attrs
import numpy as np
import numpy.typing as npt
from scipy import stats

from perennia.analysis import permutation as perm
from perennia.analysis.exact import SEED, Scores
from perennia.analysis.permutation import Booleans, Floats
from perennia.errors import AnalysisError

Sizes = tuple[tuple[int, int], ...]
"""Units of the (first, second) arm in each block."""
Residuals = Literal["normal", "lognormal", "heavy"]
RESIDUALS: dict[Residuals, str] = {
    "normal": "normal",
    "lognormal": "lognormal",
    "heavy": "heavy-tailed (Student's t, 3 degrees of freedom)",
}
"""How plants of one arm and block may differ, all with the standard deviation given; of lognormal ones it is that of
the second arm, and a difference is a ratio of the means."""
_HEAVY_DF = 3
_SIMULATIONS: dict[Scores, int] = {"ranks": 20_000, "values": 2_500}
_FEWEST = 2_500
_VALUES = 4_000_000
"""Values drawn for one power at most, beyond the fewest simulations."""
_ARRANGEMENTS = 1_000
"""Arrangements of the values looked at in each simulated trial, where there are more."""
_AT_ONCE = 4_000_000
_ROUNDING = 1 + 1e-9
_LARGEST_EFFECT = 50.0
"""Standard deviations beyond which a difference is not looked for."""
Tails = Callable[[Floats], tuple[Floats, Floats]]
"""From trials, a row each and blocks one after the other with the first arm leading, to the upper and lower tail."""


@attrs.frozen
class Truth:
    """What plants are taken to be like. sd: between plants of one arm and block, in the measure's unit. mean: of the
    second arm, which lognormal values and ratios need."""

    residuals: Residuals
    sd: float
    mean: float | None = None


@attrs.frozen
class PlannedTest:
    """The test planned for: its scores, and the two-sided p at or below which it tells the arms apart."""

    scores: Scores
    alpha: float


@attrs.frozen
class Power:
    """Chance that the test tells the arms apart, with the standard error that comes of simulating it."""

    power: float
    error: float
    simulations: int


def smallest_p(sizes: Sizes) -> float:
    """The smallest two-sided p that a layout can give."""
    return min(1.0, 2 / perm.two_arm_arrangements(sizes))


def simulated_power(
    sizes: Sizes, difference: float, truth: Truth, test: PlannedTest, *, seed: int = SEED,
    simulations: int | None = None,
) -> Power:  # fmt: skip
    """Power to tell apart arms that differ by this much. Raises AnalysisError for a truth that cannot be drawn."""
    _check(sizes, truth, difference)
    return _share(sizes, truth, test, seed, simulations, [(difference, 0.0)])


def equivalence_power(
    sizes: Sizes, margin: float, truth: Truth, test: PlannedTest, *, seed: int = SEED, simulations: int | None = None
) -> Power:
    """Chance that arms that do not differ are shown to lie within the margin, by two one-sided tests at alpha each."""
    _check(sizes, truth, 0.0)
    return _share(sizes, truth, test, seed, simulations, [(0.0, margin), (0.0, -margin)])


def smallest_difference(
    sizes: Sizes, wanted: float, truth: Truth, test: PlannedTest, *, seed: int = SEED, simulations: int | None = None
) -> float | None:
    """The smallest gain of the first arm told apart with the power wanted; None where no difference is."""
    if smallest_p(sizes) > test.alpha * _ROUNDING:
        return None
    return _smallest(
        lambda size: simulated_power(sizes, size, truth, test, seed=seed, simulations=simulations).power >= wanted,
        truth.sd,
    )


def smallest_margin(
    sizes: Sizes, wanted: float, truth: Truth, test: PlannedTest, *, seed: int = SEED, simulations: int | None = None
) -> float | None:
    """The smallest margin within which like arms are shown to lie with the power wanted; None where none is."""
    if smallest_p(sizes) / 2 > test.alpha * _ROUNDING:
        return None
    return _smallest(
        lambda size: equivalence_power(sizes, size, truth, test, seed=seed, simulations=simulations).power >= wanted,
        truth.sd,
    )


def _smallest(reached: Callable[[float], bool], sd: float) -> float | None:
    """By bisection to a thousandth of the standard deviation."""
    low, high = 0.0, sd
    while not reached(high):
        low, high = high, 2 * high
        if high > _LARGEST_EFFECT * sd:
            return None
    while high - low > sd / 1000:
        middle = (low + high) / 2
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high


def _check(sizes: Sizes, truth: Truth, difference: float) -> None:
    if not any(first and second for first, second in sizes):
        raise AnalysisError("no block holds both arms, so there is nothing to compare")
    if not truth.sd > 0:
        raise AnalysisError(f"the spread between plants is {truth.sd!r}; it must be above 0")
    if truth.residuals == "lognormal" and (truth.mean is None or not truth.mean > 0 or truth.mean + difference <= 0):
        raise AnalysisError("lognormal values need means above 0 in both arms; give mean=, or normal residuals")


def _share(
    sizes: Sizes, truth: Truth, test: PlannedTest, seed: int, simulations: int | None,
    asked: Sequence[tuple[float, float]],
) -> Power:  # fmt: skip
    """Share of trials in which every question asked ends in a rejection.

    A question is (true difference, shift taken for the null): of shift 0 two-sided; else of one side, that on which
    the arms lie nearer to one another than the shift.
    """
    sizes = tuple((first, second) for first, second in sizes if first and second)
    units = sum(first + second for first, second in sizes)
    number = simulations or int(min(_SIMULATIONS[test.scores], max(_FEWEST, _VALUES // units)))
    tails = _rank_tails(sizes) if test.scores == "ranks" else _value_tails(sizes)
    in_first = np.concatenate([np.arange(first + second) < first for first, second in sizes])
    hits = 0
    for drawn in _drawn(truth.residuals, number, units, seed):
        both = np.ones(drawn.shape[0], dtype=np.bool_)
        for difference, shift in asked:
            values = _values(drawn, in_first, difference, truth)
            values[:, in_first] -= shift
            upper, lower = tails(values)
            p = 2 * np.minimum(upper, lower) if shift == 0 else (lower if shift > 0 else upper)
            both &= p <= test.alpha * _ROUNDING
        hits += int(both.sum())
    power = hits / number
    return Power(power, math.sqrt(power * (1 - power) / number), number)


def _drawn(residuals: Residuals, number: int, units: int, seed: int) -> Iterator[Floats]:
    random = np.random.default_rng(seed)
    at_once = max(1, _AT_ONCE // (4 * units))
    for start in range(0, number, at_once):
        shape = (min(at_once, number - start), units)
        if residuals == "heavy":
            yield random.standard_t(_HEAVY_DF, shape) / math.sqrt(_HEAVY_DF / (_HEAVY_DF - 2))
        else:
            yield random.standard_normal(shape)


def _values(drawn: Floats, in_first: Booleans, difference: float, truth: Truth) -> Floats:
    if truth.residuals != "lognormal":
        return cast(Floats, truth.sd * drawn + difference * in_first)
    mean = float(truth.mean or 0.0)
    log_sd = math.sqrt(math.log1p((truth.sd / mean) ** 2))
    means = np.where(in_first, mean + difference, mean)
    return cast(Floats, means * np.exp(log_sd * drawn - log_sd**2 / 2))


def _rank_tails(sizes: Sizes) -> Tails:
    """Tails of the doubled rank sum of the first arm, added up over the blocks; drawn values have no ties."""
    tail_at = _counted(sizes) if perm.countable_two_arm(sizes) else _approximated(sizes)

    def tails(values: Floats) -> tuple[Floats, Floats]:
        total = np.zeros(values.shape[0], dtype=np.int64)
        start = 0
        for first, second in sizes:
            block = values[:, start : start + first + second]
            total += 2 * (np.argsort(np.argsort(block, axis=1), axis=1)[:, :first] + 1).sum(axis=1)
            start += first + second
        return tail_at(total)

    return tails


def _counted(sizes: Sizes) -> Callable[[npt.NDArray[np.int64]], tuple[Floats, Floats]]:
    scores = (tuple(range(2, 2 * (first + second) + 1, 2)) for first, second in sizes)
    known = perm.two_arm_distribution(tuple((first, own) for (first, _), own in zip(sizes, scores, strict=True)))
    return lambda total: (known.upper[total], known.lower[total])


def _approximated(sizes: Sizes) -> Callable[[npt.NDArray[np.int64]], tuple[Floats, Floats]]:
    mean = sum(first * (first + second + 1) for first, second in sizes)
    sd = 2 * math.sqrt(sum(first * second * (first + second + 1) / 12 for first, second in sizes))
    # half a step of 2 towards the mean, for sums come in whole ranks
    return lambda total: (stats.norm.sf((total - 1 - mean) / sd), stats.norm.cdf((total + 1 - mean) / sd))


def _value_tails(sizes: Sizes) -> Tails:
    """Tails of the sum of the first arm's values among all its arrangements, or a seeded part of them."""
    masks, _ = perm.two_arm_masks(sizes, SEED)
    if masks.shape[0] > _ARRANGEMENTS:
        others = np.random.default_rng(SEED).choice(masks.shape[0] - 1, _ARRANGEMENTS - 1, replace=False) + 1
        masks = masks[np.concatenate([[0], others])]
    arrangements = masks.astype(np.float64).T
    at_once = max(1, _AT_ONCE // arrangements.shape[1])

    def tails(values: Floats) -> tuple[Floats, Floats]:
        parts = [_placed(values[start : start + at_once] @ arrangements) for start in range(0, len(values), at_once)]
        return np.concatenate([upper for upper, _ in parts]), np.concatenate([lower for _, lower in parts])

    return tails


def _placed(sums: Floats) -> tuple[Floats, Floats]:
    """Share of the sums of each row at least, and at most, as large as its first."""
    near = perm.TIE * np.maximum(1.0, np.abs(sums).max(axis=1, keepdims=True))
    return (sums >= sums[:, :1] - near).mean(axis=1), (sums <= sums[:, :1] + near).mean(axis=1)
