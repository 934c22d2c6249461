"""Which date splits a series best: weighted least squares over every candidate, many series at once.

The scan is the sup F of Andrews 1993, Econometrica 61: 821-856 for a break in the mean; with a design of more columns
it stands beside a trend, with spikes and gaps as candidates beside steps.
"""

from __future__ import annotations

from typing import Literal

import attrs
import numpy as np

from perennia.analysis.permutation import Floats, Integers

_NEAR = 1e-9
Kind = Literal["step", "spike", "gap"]


@attrs.frozen(eq=False)
class Scan:
    """Each series held against each candidate: f, the F of adding it; change, its coefficient; rss, the weighted sum of
    squares without any, and freedom the degrees of freedom left with one."""

    f: Floats
    change: Floats
    rss: Floats
    freedom: int

    def rss_with(self) -> Floats:
        """The sum of squares with each candidate."""
        return self.rss[:, None] / (1 + self.f / self.freedom)


@attrs.frozen(eq=False)
class Candidates:
    """Stretches of a series that may lie apart, one a candidate: from place start up to before place stop.

    first, last: places a reader is told: for a step the last one before it and the first after it.
    """

    kind: Kind
    start: Integers
    stop: Integers
    first: Integers
    last: Integers


def scan(values: Floats, weights: Floats, design: Floats, start: Integers, stop: Integers) -> Scan:
    """Weighted least squares of series (a row each) on a design, with each stretch set apart in turn.

    A stretch is from place start up to before place stop, so that every sum over it is a difference of running sums.
    """
    pairs = (design[:, :, None] * design[:, None, :]).reshape(design.shape[0], -1)
    inner = (weights @ pairs).reshape(-1, design.shape[1], design.shape[1])
    inner += _NEAR * np.trace(inner, axis1=1, axis2=2)[:, None, None] * np.eye(design.shape[1]) / design.shape[1]
    coefficients = np.linalg.solve(inner, ((weights * values) @ design)[:, :, None])[:, :, 0]
    left = values - coefficients @ design.T
    rss = (weights * left**2).sum(1)
    across = _over(weights[:, None, :] * design.T, start, stop)
    own, score = _over(weights, start, stop), _over(weights * left, start, stop)
    size = own - (across * np.linalg.solve(inner, across)).sum(1)
    told = size > 1e-6 * np.maximum(own, _NEAR)
    change = np.divide(score, size, out=np.zeros_like(score), where=told)
    gain = np.minimum(change * score, rss[:, None] * (1 - _NEAR))
    freedom = values.shape[1] - design.shape[1] - 1
    f = gain / np.maximum((rss[:, None] - gain) / freedom, _NEAR)
    return Scan(f, change, rss, freedom)


def steps(n: int, least: int) -> Candidates:
    """A lasting change after each place, with at least so many on either side."""
    before = np.arange(least - 1, n - least)
    return Candidates("step", before + 1, np.full(before.size, n), before, before + 1)


def spikes(n: int, least: int) -> Candidates:
    """One place alone, with at least so many on either side."""
    place = np.arange(least, n - least)
    return Candidates("spike", place, place + 1, place, place)


def gaps(days: Floats, least: int, longest_days: int) -> Candidates:
    """Two places or more on end, so many days long at most, with at least so many places on either side."""
    first, last = np.triu_indices(days.size, 1)
    keep = (first >= least) & (last < days.size - least) & (days[last] - days[first] < longest_days)
    return Candidates("gap", first[keep], last[keep] + 1, first[keep], last[keep])


def _over(values: Floats, start: Integers, stop: Integers) -> Floats:
    """Sums over each stretch of the last axis."""
    running = np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1)
    return np.asarray(running[..., stop] - running[..., start], dtype=np.float64)
