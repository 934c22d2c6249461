"""Exact permutation tests of two arms or of pairs, with an estimate and interval by inverting the very same test.

Two kinds of scores. "ranks": the Mann-Whitney sum of ranks for two arms, the Wilcoxon signed ranks for pairs; the
estimate is the Hodges-Lehmann shift. "values": the Fisher-Pitman sum of the values themselves; the estimate is the
(weighted) difference of means. Strata add up their sums, units being exchanged within their own stratum only.

The two-sided p is twice the smaller tail, at most 1, arrangements equal to the one seen being counted. The interval
holds every shift (or ratio) whose two-sided p is above 1 - level. A ratio rho is inverted as a ratio: x is held
against rho * y, so that no logarithm stands in the way of a zero.

Pairs without a difference keep their place in the ranking and add nothing (Pratt 1959, J. Am. Stat. Assoc. 54:
655-667, doi:10.1080/01621459.1959.10501526): were they dropped, a smaller difference could make a result significant.

Sources: Hodges and Lehmann 1963, Ann. Math. Stat. 34: 598-611, doi:10.1214/aoms/1177704172; Hollander, Wolfe and
Chicken 2014, Nonparametric Statistical Methods, chapters 3 and 4; Pitman 1937, Suppl. J. R. Stat. Soc. 4: 119-130,
doi:10.2307/2984124. For the sum of strata each pair of units that could be compared counts alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis import inversion as inv
from perennia.analysis import permutation as perm
from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

Scores = Literal["ranks", "values"]
SEED = 1908
"""Seed of the sample of arrangements where they are too many to list."""

_EQUIVALENT = 0.90
"""Level of the interval that lies within a margin when both one-sided tests at 5 % say so."""

_NAMES = {
    ("two", "ranks"): "Mann-Whitney rank-sum permutation test, Hodges-Lehmann {effect}",
    ("two", "values"): "Fisher-Pitman permutation test of the means, {effect} of the means",
    ("paired", "ranks"): "Wilcoxon signed-rank permutation test (ties without difference kept, Pratt), "
    "Hodges-Lehmann {effect}",
    ("paired", "values"): "Fisher's sign-flip permutation test of the mean difference, {effect} of the means",
}


@attrs.frozen
class ExactTest:
    """Outcome of one permutation test.

    n: units in each arm, (x, y), or (pairs,); strata with one arm empty are not among them.
    p: two-sided. smallest_p: the smallest two-sided p this layout could give whatever the data.
    estimate: shift x - y, or ratio x / y (inf where the y that count are all zero).
    low, high: interval for it, None where it is unbounded on that side.
    level: the level the interval attains: at least the one asked for if the layout can reach it (exact where no two
    values of an arm are tied, else a lower bound), else the highest it can, which is lower.
    method: in words. exact: whether every arrangement was counted. draws: size of the seeded sample if not.
    """

    n: tuple[int, ...]
    p: float
    smallest_p: float
    estimate: float
    low: float | None
    high: float | None
    level: float
    method: str
    exact: bool
    draws: int | None


@attrs.frozen
class Equivalence:
    """Outcome of two one-sided tests at 5 % each (Schuirmann 1987, J. Pharmacokin. Biopharm. 15: 657-680,
    doi:10.1007/BF01068419), both of them the permutation test that the interval inverts.

    margin: the largest shift either way that would not matter. p: of the less certain of the two.
    smallest_margin: the smallest margin these data show at 5 %; None where none.
    margin_of_n: the smallest the same spread and n could show, had the shift been 0; None where no interval of 90 % can
    be had.
    """

    margin: float
    p: float
    smallest_margin: float | None
    margin_of_n: float | None


def equivalent_two_sample(
    strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]], margin: float, *, scores: Scores = "ranks", seed: int = SEED
) -> Equivalence:
    """Whether x and y differ by less than a margin. Raises AnalysisError as exact_two_sample does."""
    checked = _strata(strata, late=scores == "ranks")
    within = _two_sample(checked, scores, _EQUIVALENT, seed, inv.SHIFT)
    make = inv.two_arm_ranks if scores == "ranks" else inv.two_arm_values
    return _equivalence(make(checked, inv.SHIFT, seed), within, margin)


def equivalent_paired(
    differences: npt.ArrayLike, margin: float, *, scores: Scores = "ranks", seed: int = SEED
) -> Equivalence:
    """Whether pairs differ by less than a margin. Raises AnalysisError as exact_paired does."""
    x = _array(differences, late=scores == "ranks")
    within = _paired(x, np.zeros_like(x), scores, _EQUIVALENT, seed, inv.SHIFT)
    make = inv.paired_ranks if scores == "ranks" else inv.paired_values
    return _equivalence(make(x, np.zeros_like(x), inv.SHIFT, seed), within, margin)


def _equivalence(question: inv.Question, within: ExactTest, margin: float) -> Equivalence:
    p = max(question.tails(-margin)[0], question.tails(margin)[1])
    low, high = within.low, within.high
    reaches = within.smallest_p <= 1 - _EQUIVALENT + 1e-9
    if low is None or high is None or not reaches or math.isinf(low) or math.isinf(high):
        return Equivalence(margin, p, None, None)
    return Equivalence(margin, p, max(abs(low), abs(high)), (high - low) / 2)


def exact_two_sample(
    strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]],
    *,
    scores: Scores = "ranks",
    level: float = 0.95,
    seed: int = SEED,
) -> ExactTest:
    """Shift of x against y, strata being (x, y) pairs of arrays without missing values.

    With ranks a value may be inf, which is known to lie above every other and no more (right-censored after all of
    them, as Gehan 1965, Biometrika 52: 203-223, scores it); the estimate and an end of the interval may then be
    infinite. Raises AnalysisError for a missing or any other infinite value, a level outside (0, 1), unknown scores, or
    when no stratum holds both arms.
    """
    return _two_sample(_strata(strata, late=scores == "ranks"), scores, level, seed, inv.SHIFT)


def ratio_two_sample(
    strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]],
    *,
    scores: Scores = "ranks",
    level: float = 0.95,
    seed: int = SEED,
) -> ExactTest:
    """Ratio of x to y, neither below zero; its p is that of exact_two_sample (a ratio of 1 is a shift of 0).

    Raises AnalysisError as exact_two_sample does, and for a negative value.
    """
    checked = _strata(strata)
    _not_negative(np.concatenate([part for pair in checked for part in pair]))
    return _two_sample(checked, scores, level, seed, inv.RATIO)


def exact_paired(
    differences: npt.ArrayLike, *, scores: Scores = "ranks", level: float = 0.95, seed: int = SEED
) -> ExactTest:
    """Shift of pairs from their differences x - y.

    With ranks a difference may be infinite, of which only the sign is known and that it is larger than all others.
    Raises AnalysisError for a missing or any other infinite value, a level outside (0, 1), unknown scores, or no pair.
    """
    x = _array(differences, late=scores == "ranks")
    return _paired(x, np.zeros_like(x), scores, level, seed, inv.SHIFT)


def ratio_paired(
    x: npt.ArrayLike, y: npt.ArrayLike, *, scores: Scores = "ranks", level: float = 0.95, seed: int = SEED
) -> ExactTest:
    """Ratio rho of pairs such that x - rho * y lies evenly about zero; its p is that of exact_paired(x - y), but for
    the error of a sample where there are over a hundred pairs and some of them are equal.

    Raises AnalysisError as exact_paired does, for arms of unequal length and for a negative value.
    """
    first, second = _array(x), _array(y)
    if first.size != second.size:
        raise AnalysisError(f"pairs need as many values in both arms, here {first.size} and {second.size}")
    _not_negative(np.concatenate([first, second]))
    return _paired(first, second, scores, level, seed, inv.RATIO)


def _array(values: npt.ArrayLike, *, late: bool = False) -> Floats:
    array = np.asarray(values, dtype=np.float64).ravel()
    if np.isnan(array).any() or not (late or np.isfinite(array).all()):
        raise AnalysisError("an exact test takes finite values only; leave the missing ones out and count them")
    return array


def _strata(
    strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]], *, late: bool = False
) -> list[tuple[Floats, Floats]]:
    arrays = ((_array(x, late=late), _array(y, late=late)) for x, y in strata)
    return [(x, y) for x, y in arrays if x.size and y.size]


def _not_negative(values: Floats) -> None:
    if (values < 0).any():
        raise AnalysisError("a ratio needs values that are not negative; ask for the shift instead")


def _check(scores: str, level: float, empty: bool, lacking: str) -> None:
    if scores not in ("ranks", "values"):
        raise AnalysisError(f"unknown scores {scores!r}: choose 'ranks' or 'values'")
    if not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    if empty:
        raise AnalysisError(lacking)


def _two_sample(
    strata: list[tuple[Floats, Floats]], scores: Scores, level: float, seed: int, effect: inv.Effect
) -> ExactTest:
    _check(scores, level, not strata, "no stratum holds both arms, so there is nothing to exchange")
    sizes = [(x.size, y.size) for x, y in strata]
    if scores == "ranks":
        question = inv.two_arm_ranks(strata, effect, seed)
    else:
        question = inv.two_arm_values(strata, effect, seed)
    n = (sum(a for a, _ in sizes), sum(b for _, b in sizes))
    across = "" if len(strata) == 1 else f", sums added over {len(strata)} strata"
    return _outcome(question, n, perm.two_arm_arrangements(sizes), level, ("two", scores), across)


def _paired(x: Floats, y: Floats, scores: Scores, level: float, seed: int, effect: inv.Effect) -> ExactTest:
    _check(scores, level, x.size == 0, "there is no pair, so there is nothing to exchange")
    question = inv.paired_ranks(x, y, effect, seed) if scores == "ranks" else inv.paired_values(x, y, effect, seed)
    return _outcome(question, (x.size,), 2**x.size, level, ("paired", scores), "")


def _outcome(
    question: inv.Question, n: tuple[int, ...], arrangements: int, level: float, kind: tuple[str, str], across: str
) -> ExactTest:
    smallest = min(1.0, 2 / min(arrangements, question.listed or arrangements))
    alpha = 1 - level if smallest >= 1 else max(1 - level, smallest)
    low, high = inv.interval(question, alpha)
    attained = 1 - (alpha if question.attained is None else question.attained(alpha))
    counted = "every arrangement counted" if question.draws is None else f"{question.draws} seeded random arrangements"
    name = _NAMES[kind].format(effect=question.effect.noun)
    return ExactTest(
        n=n,
        p=inv.two_sided(question.tails(question.effect.null)),
        smallest_p=smallest,
        estimate=question.estimate,
        low=low,
        high=high,
        level=level if smallest >= 1 else attained,
        method=f"{name}{across}; {counted}, two-sided p twice the smaller tail, interval by inverting the test",
        exact=question.draws is None,
        draws=question.draws,
    )
