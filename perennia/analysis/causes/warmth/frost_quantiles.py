"""Quantiles of a sample of days, one a year: by order, with intervals that hold whatever the distribution, and normal.

A year without such a day is minus or plus infinite, earlier or later than all others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np
from scipy import stats


@attrs.frozen
class DayQuantile:
    """The day by which a share of the years had it. low and high: the interval, infinite where the years are too few to
    bound that side or the bound is a year without such a day."""

    share: float
    day: float
    low: float
    high: float


@attrs.frozen
class NormalDays:
    """The normal distribution of largest likelihood, its variance over n."""

    mean: float
    sd: float

    def day(self, share: float) -> float:
        """The day by which that share of the years has had it."""
        return float(stats.norm.ppf(share, self.mean, self.sd)) if self.sd > 0 else self.mean

    def on_or_after(self, day: float) -> float:
        """The chance of one on or after that day, the day taken as a point of the line."""
        return float(stats.norm.sf(day, self.mean, self.sd)) if self.sd > 0 else float(self.mean >= day)


def day_quantile(days: Sequence[float], share: float, level: float) -> DayQuantile:
    """The quantile by linear interpolation between the ordered days, and its interval from two of them.

    Of n years as good as drawn at random, the number up to the true quantile is binomial, so that the l-th and u-th day
    in order hold it with at least the level, half of what is left on either side (David and Nagaraja 2003, Order
    Statistics, section 7.1: from memory). Ties, days being whole, can only raise the level.
    """
    ordered = sorted(days)
    n = len(ordered)
    half = (1 - level) / 2
    lower = int(stats.binom.ppf(half, n, share))
    upper = int(stats.binom.ppf(1 - half, n, share)) + 1
    return DayQuantile(
        share=share,
        day=_interpolated(ordered, share),
        low=ordered[lower - 1] if lower >= 1 else -math.inf,
        high=ordered[upper - 1] if upper <= n else math.inf,
    )


def normal_days(days: Sequence[float]) -> NormalDays | None:
    """The normal fit, or None below 2 years or where a year had no such day."""
    if len(days) < 2 or not all(math.isfinite(day) for day in days):
        return None
    return NormalDays(float(np.mean(days)), float(np.std(days)))


def _interpolated(ordered: Sequence[float], share: float) -> float:
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    low, high = ordered[below], ordered[min(below + 1, len(ordered) - 1)]
    if low == high or place == below:
        return low
    # between a year without such a day and one with, nobody knows where
    return low + (place - below) * (high - low) if math.isfinite(high - low) else (low if math.isinf(low) else high)
