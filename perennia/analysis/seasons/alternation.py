"""Alternate bearing: how unlike neighbouring seasons are, and how unlike they would be in any other order.

The index of one unit is the mean over pairs of neighbouring seasons of |second - first| / (second + first): 0 where
every season is alike, 1 where every other season bears nothing. It is above 0 for any seasons that differ, whatever
makes them differ, so it is held against the index of the very same seasons in every other order (chance): seasons that
only vary lie near it, seasons that alternate above it, a steady rise or fall below it.

The order is one of the seasons, not of each unit for itself: every unit had the same weather, so all are shuffled
alike, and what they have in common is not taken for as many proofs as there are units.

Sources: Hoblyn, Grubb, Painter and Wates 1936, J. Pomol. Hort. Sci. 14: 39-76 (the index); Monselise and Goldschmidt
1982, Hort. Rev. 4: 128-173 (its use). Shuffling as a yardstick is our own choice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis.permutation import Booleans, Floats, Integers
from perennia.errors import AnalysisError

LISTED_AT_MOST = 7
"""Seasons whose orders are all listed (5,040); beyond it DRAWS seeded random orders take their place."""
DRAWS = 4_999
SEED = 1936
TAIL = 0.025
_TIE = 1e-12


@attrs.frozen
class Alternation:
    """The index of one unit. pairs: neighbouring seasons it is the mean of. zero_pairs: those left out, because a pair
    that bore nothing in either season has no index. breaks: places where seasons without a value lie between two.
    index: None without a pair. chance: mean over the orders of its seasons, None below 3 seasons, where no order
    differs; chance_low, chance_high: the range that holds at least 95 in 100 of the orders."""

    seasons: int
    pairs: int
    zero_pairs: int
    breaks: int
    index: float | None
    chance: float | None
    chance_low: float | None
    chance_high: float | None


@attrs.frozen
class MeanAlternation:
    """The mean index over units that have one. chance, chance_low, chance_high: as in Alternation, of that mean, over
    orders of the seasons. seasons: how many there are over all units. orders: how many were looked at. listed: whether
    these are all. tellable: whether any order at all could lie outside the range, above it. smallest_p: the smallest
    share of orders that any one of them could have at or above it; it is tellable where that is below TAIL."""

    n: int
    index: float
    chance: float
    chance_low: float
    chance_high: float
    seasons: int
    orders: int
    listed: bool
    tellable: bool
    smallest_p: float

    @property
    def above(self) -> bool:
        """Whether neighbouring seasons are more unlike than in at least 95 in 100 orders."""
        return self.index > self.chance_high + _TIE

    @property
    def below(self) -> bool:
        """Whether neighbouring seasons are more alike than in at least 95 in 100 orders."""
        return self.index < self.chance_low - _TIE


def alternation(
    series: Sequence[tuple[Sequence[int], npt.ArrayLike]],
) -> tuple[list[Alternation], MeanAlternation | None]:
    """The index of every unit, and their mean, from the (years, values) of each, years rising, no value missing.

    Raises AnalysisError for a value that is negative, missing or infinite, and for years that do not rise.
    """
    units = [_checked(years, values) for years, values in series]
    every = sorted({int(year) for years, _ in units for year in years})
    orders, listed = _orders(len(every))
    found: list[Alternation] = []
    total, number = np.zeros(len(orders)), np.zeros(len(orders))
    seen: list[float] = []
    for years, values in units:
        shuffled = _shuffled(years, values, orders[:, np.searchsorted(every, years)])
        entry = _of_unit(years, values, shuffled)
        found.append(entry)
        if entry.index is not None:
            seen.append(entry.index)
            known = ~np.isnan(shuffled)
            total += np.where(known, shuffled, 0.0)
            number += known
    return found, _mean(seen, total, number, len(every), listed) if seen else None


def share_in_turn(seasons: int) -> float:
    """Of all orders of so many seasons in a row the share in which heavy and light ones take turns, where half of them
    (one more or less of an odd number) are heavy, all alike, and the others light: the most that alternation can look
    like. Where years are missing between them it comes about more often."""
    return (2 - seasons % 2) / math.comb(seasons, seasons // 2)


SEASONS_NEEDED = next(seasons for seasons in itertools.count(3) if share_in_turn(seasons) < TAIL)
"""The fewest seasons in a row in which heavy and light ones that take turns lie above the range."""


def _checked(years: Sequence[int], values: npt.ArrayLike) -> tuple[Integers, Floats]:
    when, crop = np.asarray(years, dtype=np.int64), np.asarray(values, dtype=np.float64)
    if when.shape != crop.shape or (np.diff(when) < 1).any():
        raise AnalysisError("alternation takes a value a year, years rising")
    if not np.isfinite(crop).all() or (crop < 0).any():
        raise AnalysisError("alternation takes crops that are known and not negative; leave the missing ones out")
    return when, crop


def _orders(seasons: int) -> tuple[Integers, bool]:
    """Orders as ranks of the seasons, a row an order; the first is the one seen."""
    if seasons <= LISTED_AT_MOST:
        return np.array(list(itertools.permutations(range(seasons))), dtype=np.int64), True
    random = np.random.default_rng(SEED)
    drawn = random.permuted(np.tile(np.arange(seasons), (DRAWS, 1)), axis=1)
    return np.vstack([np.arange(seasons), drawn]), False


def _shuffled(years: Integers, values: Floats, ranks: Integers) -> Floats:
    """The index in every order of a unit's own seasons, which are dealt to its own places; nan without a pair."""
    return _indices(values[np.argsort(ranks, axis=1)], np.diff(years) == 1)


def _indices(values: Floats, neighbours: Booleans) -> Floats:
    """Mean index of each row over those neighbours that are a year apart and not both zero."""
    first, second = values[:, :-1][:, neighbours], values[:, 1:][:, neighbours]
    both = first + second
    borne = both > 0
    terms = np.divide(np.abs(second - first), both, out=np.zeros_like(both), where=borne)
    pairs = borne.sum(axis=1)
    indices: Floats = np.divide(terms.sum(axis=1), pairs, out=np.full(len(values), np.nan), where=pairs > 0)
    return indices


def _of_unit(years: Integers, values: Floats, shuffled: Floats) -> Alternation:
    neighbours = np.diff(years) == 1
    index = float(_indices(values[None, :], neighbours)[0])
    both_zero = int(((values[:-1] + values[1:] == 0) & neighbours).sum())
    chance = low = high = None
    if years.size >= 3 and not math.isnan(index):
        chance, low, high = _yardstick(shuffled[~np.isnan(shuffled)])
    return Alternation(
        seasons=int(years.size), pairs=int(neighbours.sum()) - both_zero, zero_pairs=both_zero,
        breaks=int((~neighbours).sum()), index=None if math.isnan(index) else index,
        chance=chance, chance_low=low, chance_high=high,
    )  # fmt: skip


def _yardstick(indices: Floats) -> tuple[float, float, float]:
    """Mean, and the range that at most TAIL of the orders lie below and above."""
    low, high = np.quantile(indices, TAIL, method="lower"), np.quantile(indices, 1 - TAIL, method="higher")
    return float(indices.mean()), float(low), float(high)


def _mean(
    seen: Sequence[float], total: Floats, number: Floats, seasons: int, listed: bool
) -> MeanAlternation:  # fmt: skip
    means = total[number > 0] / number[number > 0]
    chance, low, high = _yardstick(means)
    return MeanAlternation(
        n=len(seen), index=float(np.mean(seen)), chance=chance, chance_low=low, chance_high=high,
        seasons=seasons, orders=means.size, listed=listed, tellable=bool((means > high + _TIE).any()),
        smallest_p=float(np.mean(means >= means.max() - _TIE)),
    )  # fmt: skip
