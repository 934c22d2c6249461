"""How the crop of the same roots changed from their first season to a later one, against that of fresh stock."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

import attrs

from perennia.analysis.contrasts import Contrast, Part, contrast
from perennia.analysis.decisions.comparing.pairs import Pair

SMALLEST_ARM = 4
"""Units an arm and season below which there is no p and no interval."""


@attrs.frozen
class FreshPlace:
    """Values of fresh units of one place and cultivar, in the roots' first season and in the later one; neither is
    empty."""

    first: tuple[float, ...]
    later: tuple[float, ...]

    @property
    def weight(self) -> float:
        """What a place tells of a difference of means: the harmonic size of its two sides."""
        return len(self.first) * len(self.later) / (len(self.first) + len(self.later))


@attrs.frozen
class Means:
    """The four means; those of fresh stock weighted by place alike in both seasons."""

    roots_first: float
    roots_later: float
    fresh_first: float
    fresh_later: float

    @property
    def gap(self) -> float:
        """The roots' change less the change of fresh stock."""
        return (self.roots_later - self.roots_first) - (self.fresh_later - self.fresh_first)


def means_of(pairs: Sequence[Pair], places: Sequence[FreshPlace]) -> Means:
    """The means of pairs of roots and of fresh stock in the same places; neither is empty."""
    return Means(
        statistics.fmean(pair.values[1] for pair in pairs), statistics.fmean(pair.values[0] for pair in pairs),
        _weighted([place.first for place in places], places), _weighted([place.later for place in places], places),
    )  # fmt: skip


def enough(pairs: Sequence[Pair], places: Sequence[FreshPlace]) -> bool:
    """Whether every arm and season has the units for an interval."""
    sizes = (len(pairs), sum(len(place.first) for place in places), sum(len(place.later) for place in places))
    return min(sizes) >= SMALLEST_ARM


def gap_in_grams(pairs: Sequence[Pair], places: Sequence[FreshPlace], level: float) -> Contrast | None:
    """The difference in differences with its interval."""
    changes = [pair.values[0] - pair.values[1] for pair in pairs]
    parts = [
        Part(statistics.variance(changes) / len(changes), len(changes) - 1),
        _spread([place.first for place in places], places),
        _spread([place.later for place in places], places),
    ]
    return contrast(means_of(pairs, places).gap, parts, level)


def ratio_of_ratios(pairs: Sequence[Pair], places: Sequence[FreshPlace], level: float) -> Contrast | None:
    """The roots' change as a ratio of means over that of fresh stock, all of it as a logarithm; None where a mean is 0.

    By the delta method: the spread of a ratio of paired means is that of later / its mean - first / its mean.
    """
    means = means_of(pairs, places)
    if min(means.roots_first, means.roots_later, means.fresh_first, means.fresh_later) <= 0:
        return None
    apart = [pair.values[0] / means.roots_later - pair.values[1] / means.roots_first for pair in pairs]
    first = _spread([place.first for place in places], places)
    later = _spread([place.later for place in places], places)
    parts = [
        Part(statistics.variance(apart) / len(apart), len(apart) - 1),
        Part(first.variance / means.fresh_first**2, first.freedom),
        Part(later.variance / means.fresh_later**2, later.freedom),
    ]
    estimate = math.log(means.roots_later / means.roots_first) - math.log(means.fresh_later / means.fresh_first)
    return contrast(estimate, parts, level)


def _weighted(sides: Sequence[Sequence[float]], places: Sequence[FreshPlace]) -> float:
    weights = [place.weight for place in places]
    return math.fsum(
        weight * statistics.fmean(side) for weight, side in zip(weights, sides, strict=True)
    ) / math.fsum(weights)


def _spread(sides: Sequence[Sequence[float]], places: Sequence[FreshPlace]) -> Part:
    """Of the weighted mean, with one spread of units within places."""
    freedom = sum(len(side) for side in sides) - len(sides)
    if freedom <= 0:
        return Part(0.0, 0.0)
    within = math.fsum((value - statistics.fmean(side)) ** 2 for side in sides for value in side) / freedom
    weights = [place.weight for place in places]
    share = math.fsum(weight**2 / len(side) for weight, side in zip(weights, sides, strict=True))
    return Part(within * share / math.fsum(weights) ** 2, freedom)
