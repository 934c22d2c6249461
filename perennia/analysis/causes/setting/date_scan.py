"""Which date splits a series best: weighted least squares over every candidate, many series at once.

The scan is the sup F of Andrews 1993, Econometrica 61: 821-856 for a break in the mean; with a design of more columns
it stands beside a trend, with spikes and gaps as candidates beside steps.
"""

from __future__ import annotations

from typing import Literal

import attrs
import numpy as np

from perennia.analysis.permutation import Booleans, Floats, Integers

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
    """Columns to add to a trend, one a candidate. first, last: places in the series of the days it is about: for a step
    the last day before it and the first after it."""

    kind: Kind
    columns: Floats
    first: tuple[int, ...]
    last: tuple[int, ...]


def scan(values: Floats, weights: Floats, design: Floats, columns: Floats) -> Scan:
    """Weighted least squares of series (a row each) on a design, with each of the columns (one a candidate) in turn."""
    inner = products(weights, design, design)
    inner += _NEAR * np.trace(inner, axis1=1, axis2=2)[:, None, None] * np.eye(design.shape[1]) / design.shape[1]
    weighted = weights * values
    coefficients = np.linalg.solve(inner, (weighted @ design)[:, :, None])[:, :, 0]
    left = values - coefficients @ design.T
    rss = (weights * left**2).sum(1)
    across = products(weights, design, columns)
    own = weights @ columns**2
    size = own - np.einsum("mic,mic->mc", across, np.linalg.solve(inner, across))
    score = (weights * left) @ columns
    told = size > 1e-6 * np.maximum(own, _NEAR)
    change = np.divide(score, size, out=np.zeros_like(score), where=told)
    gain = np.minimum(change * score, rss[:, None] * (1 - _NEAR))
    freedom = values.shape[1] - design.shape[1] - 1
    f = gain / np.maximum((rss[:, None] - gain) / freedom, _NEAR)
    return Scan(f, change, rss, freedom)


def products(weights: Floats, left: Floats, right: Floats) -> Floats:
    """Every column of the one with every column of the other, summed with each row of weights."""
    pairs = (left[:, :, None] * right[:, None, :]).reshape(left.shape[0], -1)
    return np.asarray((weights @ pairs).reshape(-1, left.shape[1], right.shape[1]), dtype=np.float64)


def steps(n: int, least: int) -> Candidates:
    """A lasting change after each place, with at least so many on either side."""
    places = range(least - 1, n - least)
    columns = np.array([np.arange(n) > place for place in places], dtype=np.float64).reshape(-1, n).T
    return Candidates("step", columns, tuple(places), tuple(place + 1 for place in places))


def spikes(n: int, least: int) -> Candidates:
    """One place alone, with at least so many on either side."""
    places = range(least, n - least)
    return Candidates("spike", np.eye(n)[:, least : n - least], tuple(places), tuple(places))


def gaps(days: Floats, least: int, longest_days: int) -> Candidates:
    """Two places or more on end, so many days long at most, with at least so many places on either side."""
    n = days.size
    found = [
        (first, last)
        for first in range(least, n - least) for last in range(first + 1, n - least)
        if days[last] - days[first] < longest_days
    ]  # fmt: skip
    place = np.arange(n, dtype=np.int64)
    columns = np.array([_inside(place, first, last) for first, last in found], dtype=np.float64).reshape(-1, n).T
    return Candidates("gap", columns, tuple(first for first, _ in found), tuple(last for _, last in found))


def _inside(place: Integers, first: int, last: int) -> Booleans:
    return np.asarray((place >= first) & (place <= last))
