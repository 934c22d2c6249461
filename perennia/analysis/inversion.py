"""Inverting a permutation test: which shifts, or ratios, of x against y would it let stand?

Every test here has the same form. The sum of scores changes only where the null value passes a breakpoint: the
difference (or ratio) of two units, the mean difference (or ratio of sums) of two pairs or of two sets of units. So
the tails are asked for at the breakpoints and between them, and the interval ends at a breakpoint.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import attrs
import numpy as np

from perennia.analysis import permutation as perm
from perennia.analysis.permutation import Booleans, Floats, Integers, Tails

_MERGE = 1e-11
"""Breakpoints nearer than this share of the largest are one; wider than permutation.TIE, so that between two
breakpoints nothing is tied by rounding."""


_WAVERING_AT_MOST = 100
"""Pairs, some of them equal, up to which every ratio is asked for one by one; with 300 that took minutes."""


@attrs.frozen
class Effect:
    """What the null value does to y: a shift is added, a ratio multiplies. null leaves y as it is."""

    noun: Literal["shift", "ratio"]
    null: float
    floor: float


SHIFT = Effect("shift", 0.0, -math.inf)
RATIO = Effect("ratio", 1.0, 0.0)


@attrs.frozen(eq=False)
class Question:
    """One test, ready to be inverted.

    breakpoints: sorted, finite. tails: from a null value to its upper and lower tail. estimate: where the sum equals
    its mean. attained: from alpha to the largest two-sided p not above it, None where only alpha is known to hold.
    listed: arrangements looked at, None if counted. draws: size of the seeded sample, None if every one was counted.
    wavers: the tails do not move one way only, so that every point has to be asked.
    """

    effect: Effect
    breakpoints: Floats
    tails: Tails
    estimate: float
    attained: Callable[[float], float] | None
    listed: int | None
    draws: int | None
    wavers: bool = False


def two_sided(tails: tuple[float, float]) -> float:
    """Twice the smaller tail, at most 1."""
    return min(1.0, 2 * min(tails))


def interval(question: Question, alpha: float) -> tuple[float | None, float | None]:
    """The smallest interval holding every null value with a two-sided p above alpha; None is unbounded."""
    points = _points(question)

    def stands(index: int, tail: int) -> bool:
        value = points[index]
        return value is not None and 2 * question.tails(value)[tail] > alpha * (1 + 1e-9)

    last = len(points) - 1
    search = _first_of_all if question.wavers else _first
    lowest = search(lambda index: stands(index, 0), last)
    highest = last - search(lambda index: stands(last - index, 1), last)
    return _low_end(question, lowest), _high_end(question, highest, last)


def _low_end(question: Question, index: int) -> float | None:
    """The breakpoint at or just below a point; points alternate gap, breakpoint, gap."""
    if index == 0:
        return None if question.effect is SHIFT else question.effect.floor
    place = (index - 1) // 2
    return math.inf if place >= question.breakpoints.size else float(question.breakpoints[place])


def _high_end(question: Question, index: int, last: int) -> float | None:
    if index >= last:
        return None
    return question.effect.floor if index < 0 else float(question.breakpoints[index // 2])


def _points(question: Question) -> list[float | None]:
    """Null values to try: below, at and between all breakpoints, and above them; None where there is no such value."""
    ends = question.breakpoints
    if question.effect is SHIFT:
        room = 1.0 + (float(np.abs(ends).max()) if ends.size else 0.0)
        below: float | None = -2 * room
        above = 2 * room
    else:
        below = (float(ends[0]) / 2 or None) if ends.size else 1.0
        above = 2 * float(ends[-1]) + 1.0 if ends.size else 1.0
    points: list[float | None] = [below]
    for place, end in enumerate(ends):
        points.append(float(end))
        points.append((float(end) + float(ends[place + 1])) / 2 if place + 1 < ends.size else above)
    return points


def _first(stands: Callable[[int], bool], last: int) -> int:
    """Lowest index at which the test lets the value stand, last + 1 if none; a breakpoint counts as the gap above it.

    By bisection over the gaps between breakpoints. Every arrangement's lead over the one seen moves one way with a
    shift, and with a ratio of two arms, so the tails do too. In the signed ranks of a ratio of equal pairs they waver
    (see wavers).
    """
    low, high = 0, last + 2
    while high - low > 2:
        middle = (low + high) // 4 * 2
        if middle > last or stands(middle):
            high = middle
        else:
            low = middle
    return 0 if stands(0) else min(high, last + 1)


def _first_of_all(stands: Callable[[int], bool], last: int) -> int:
    """Like _first, asking every point from the outside in."""
    return next((index for index in range(last + 1) if stands(index)), last + 1)


def _merged(breakpoints: Floats) -> Floats:
    """Sorted breakpoints, those that differ by rounding only made one."""
    ordered: Floats = np.unique(breakpoints)
    if ordered.size == 0:
        return ordered
    merged: Floats = ordered[np.concatenate([[True], np.diff(ordered) > _MERGE * np.abs(ordered).max()])]
    return merged


def _ratios(above: Floats, below: Floats) -> tuple[Floats, int]:
    """above / below where that is finite, and how many are infinite; 0 / 0 stands at every ratio and is neither."""
    usable = below > 0
    return above[usable] / below[usable], int(((below == 0) & (above > 0)).sum())


def _shifts(differences: Floats) -> tuple[Floats, int, int]:
    """The differences that are finite, and how many are infinite above and below; two that are both later than any
    date stand at every shift and are none of these."""
    with np.errstate(invalid="ignore"):
        return (
            differences[np.isfinite(differences)],
            int((differences == np.inf).sum()),
            int((differences == -np.inf).sum()),
        )


def _median(effect: Effect, finite: Floats, infinite: int, below: int = 0) -> float:
    """Median of breakpoints of which some are infinite, below of them under all others; no difference without any.

    Between two ratios the geometric mean, so that the ratio of y to x is the inverse of that of x to y.
    """
    every = np.concatenate([np.full(below, -np.inf), np.sort(finite), np.full(infinite, np.inf)])
    if every.size == 0:
        return effect.null
    lower, upper = every[(every.size - 1) // 2], every[every.size // 2]
    if math.isinf(lower) and math.isinf(upper):
        return float(lower) if lower == upper else effect.null
    if math.isinf(lower):
        return -math.inf
    if math.isinf(upper) or (effect is RATIO and lower == 0 < upper):
        # half of the ratios are nothing or beyond bound: their middle is no ratio at all
        return math.inf
    return float((lower + upper) / 2 if effect is SHIFT else math.sqrt(lower) * math.sqrt(upper))


def two_arm_ranks(strata: list[tuple[Floats, Floats]], effect: Effect, seed: int) -> Question:
    """Rank sums of two arms; breakpoints are the differences (ratios) of every x to every y of its stratum.

    An infinite value is known to be later than any date there is: it ranks above all others, whatever the shift.
    """
    first = np.concatenate([np.repeat(x, y.size) for x, y in strata])
    second = np.concatenate([np.tile(y, x.size) for x, y in strata])
    with np.errstate(invalid="ignore"):
        finite, infinite, below = _shifts(first - second) if effect is SHIFT else (*_ratios(first, second), 0)
    sizes = [(x.size, y.size) for x, y in strata]
    counted = perm.countable_two_arm(sizes)
    masks = None if counted else perm.ready(perm.two_arm_masks(sizes, seed)[0])

    def ranked(value: float) -> list[Integers]:
        return [_two_arm_scores(x, y, value, effect) for x, y in strata]

    def tails(value: float) -> tuple[float, float]:
        scores = ranked(value)
        if masks is not None:
            return perm.sampled_tails(perm.row_sums(masks, np.concatenate(scores).astype(np.float64)))
        key = tuple((n, tuple(np.sort(part).tolist())) for (n, _), part in zip(sizes, scores, strict=True))
        seen = sum(int(part[:n].sum()) for (n, _), part in zip(sizes, scores, strict=True))
        return _at(perm.two_arm_distribution(key), seen)

    def attained(alpha: float) -> float:
        key = tuple((a, tuple(range(2, 2 * (a + b) + 1, 2))) for a, b in sizes)
        return _largest_p(perm.two_arm_distribution(key), alpha)

    untied = all(np.unique(part).size == part.size for pair in strata for part in pair)
    return Question(
        effect, _merged(finite), tails, _median(effect, finite, infinite, below),
        attained if untied and counted else None,
        None if counted else perm.DRAWS + 1, None if counted else perm.DRAWS,
    )  # fmt: skip


def _two_arm_scores(x: Floats, y: Floats, value: float, effect: Effect) -> Integers:
    pooled = np.concatenate([x - value, y] if effect is SHIFT else [x, value * y])
    return perm.doubled_midranks(pooled, max(_largest(pooled), _largest(x)))


def _largest(values: Floats) -> float:
    """The largest finite size among values, 0 without one."""
    return float(np.abs(values[np.isfinite(values)]).max(initial=0.0))


def paired_ranks(x: Floats, y: Floats, effect: Effect, seed: int) -> Question:
    """Signed ranks of pairs; breakpoints are the means of (ratios of the sums of) every two pairs.

    With a ratio two differences of one sign can also change places, at the ratio of the differences of their pairs.
    That leaves the sum as it is, but where equal pairs are tied it changes what the sum is held against, and not one
    way only.
    """
    one, other = np.triu_indices(x.size)
    with np.errstate(invalid="ignore"):
        sums = x[one] + x[other]
    finite, infinite, below = _shifts(sums / 2) if effect is SHIFT else (*_ratios(sums, y[one] + y[other]), 0)
    estimate = _median(effect, finite, infinite, below)
    untied = np.unique(x if effect is SHIFT else np.stack([x, y]), axis=-1).shape[-1] == x.size
    untied = untied and (effect is SHIFT or not ((x == 0) & (y == 0)).any())
    counted = perm.countable_paired(x.size) and (effect is SHIFT or untied or x.size <= _WAVERING_AT_MOST)
    masks = None if counted else perm.ready(perm.turned_masks(x.size, seed)[0])

    def tails(value: float) -> tuple[float, float]:
        left = x - value if effect is SHIFT else x - value * y
        scale = _largest(x) + abs(value) * (1.0 if effect is SHIFT else float(y.max()))
        zero = np.abs(left) <= perm.TIE * scale
        ranks = np.where(zero, 0, perm.doubled_midranks(np.where(zero, 0.0, np.abs(left)), scale))
        if masks is not None:
            return perm.sampled_tails(perm.row_sums(masks, -np.sign(left) * ranks))
        return _at(perm.paired_distribution(tuple(np.sort(ranks).tolist())), int(ranks[left > 0].sum()))

    def attained(alpha: float) -> float:
        return _largest_p(perm.paired_distribution(tuple(range(2, 2 * x.size + 1, 2))), alpha)

    wavers = effect is RATIO and not untied and counted
    if wavers:
        finite = np.concatenate([finite, _crossings(x, y, one, other)])
    return Question(
        effect, _merged(finite), tails, estimate, attained if untied and counted else None,
        None if counted else perm.DRAWS + 1, None if counted else perm.DRAWS, wavers,
    )  # fmt: skip


def _crossings(x: Floats, y: Floats, one: Integers, other: Integers) -> Floats:
    """Ratios at which the differences of two pairs are equal."""
    above, below = x[one] - x[other], y[one] - y[other]
    crossing = above * below > 0
    ratios: Floats = above[crossing] / below[crossing]
    return ratios


def _at(distribution: perm.Distribution, seen: int) -> tuple[float, float]:
    return float(distribution.upper[seen]), float(distribution.lower[seen])


def _largest_p(distribution: perm.Distribution, alpha: float) -> float:
    """Largest attainable two-sided p not above alpha."""
    reachable = 2 * distribution.lower[distribution.lower > 0]
    within = reachable[reachable <= alpha * (1 + 1e-9)]
    return float(within.max()) if within.size else alpha


def two_arm_values(strata: list[tuple[Floats, Floats]], effect: Effect, seed: int) -> Question:
    """Sums of values; a breakpoint belongs to each arrangement: what left x against what came over from y."""
    sizes = [(x.size, y.size) for x, y in strata]
    masks, every = perm.two_arm_masks(sizes, seed)
    own = np.concatenate([np.arange(a + b) < a for a, b in sizes])
    pooled = np.concatenate([part for pair in strata for part in pair])
    left = perm.row_sums(~masks[:, own], pooled[own])
    came = perm.row_sums(masks[:, ~own], pooled[~own])
    moved = (~masks[:, own]).sum(axis=1).astype(np.float64)
    weights = np.array([a * b / (a + b) for a, b in sizes])
    mean_x = float(weights @ np.array([x.mean() for x, _ in strata]))
    mean_y = float(weights @ np.array([y.mean() for _, y in strata]))
    if effect is SHIFT:
        return _values(effect, left - came, moved, (mean_x - mean_y) / float(weights.sum()), every)
    return _values(effect, left, came, _quotient(mean_x, mean_y), every)


def paired_values(x: Floats, y: Floats, effect: Effect, seed: int) -> Question:
    """Sums of differences; a breakpoint belongs to each set of pairs turned round."""
    masks, every = perm.turned_masks(x.size, seed)
    if effect is SHIFT:
        return _values(effect, perm.row_sums(masks, x), _sizes(masks), float(x.mean()), every)
    ratio = _quotient(float(x.sum()), float(y.sum()))
    return _values(effect, perm.row_sums(masks, x), perm.row_sums(masks, y), ratio, every)


def _sizes(masks: Booleans) -> Floats:
    return np.asarray(masks.sum(axis=1), dtype=np.float64)


def _quotient(above: float, below: float) -> float:
    if below > 0:
        return above / below
    return math.inf if above > 0 else 1.0


def _values(effect: Effect, above: Floats, below: Floats, estimate: float, every: bool) -> Question:
    """A question whose arrangements each turn over at above / below; 0 / 0 is as extreme as the data at any value."""
    always = int(((below == 0) & (above == 0)).sum())
    finite = np.sort(above[below > 0] / below[below > 0])
    infinite = int(((below == 0) & (above > 0)).sum())
    total = above.size
    largest = float(np.abs(finite).max()) if finite.size else 0.0

    def tails(value: float) -> tuple[float, float]:
        near = perm.TIE * (largest + abs(value)) if effect is SHIFT else 10 * perm.TIE * value
        upper = always + int(np.searchsorted(finite, value + near, side="right"))
        lower = always + finite.size - int(np.searchsorted(finite, value - near, side="left")) + infinite
        return upper / total, lower / total

    def attained(alpha: float) -> float:
        return math.floor(alpha * total / 2 * (1 + 1e-9)) * 2 / total

    merged = _merged(finite)
    single = every and always == 1 and merged.size == finite.size and infinite == 0
    draws = None if every else perm.DRAWS
    return Question(effect, merged, tails, estimate, attained if single else None, total, draws)
