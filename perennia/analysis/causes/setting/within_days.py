"""Patterns among flowers that opened on one day: what day, weather and visits did to all of them alike is held fixed.

Outcomes are shuffled among flowers of one plant that opened on one day, or among all flowers of one day. A pattern
along the truss that only mirrors good and bad days is not told as one of the truss.
"""

from __future__ import annotations

import math
from typing import Literal

import attrs
import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

from perennia.analysis.permutation import Floats, Integers

DRAWS = 1_999
"""Shuffles behind one p."""
SEED = 1908
_NEAR = 1e-9

Side = Literal["both", "lower"]


@attrs.frozen(eq=False)
class FlowerArrays:
    """Decided flowers in order of truss and position. kept: 1 where the flower set, 0 where it failed. plant, truss:
    numbers of each; rank: place among the flowers of its truss from 0 to 1; opened: number of its day; truss_load:
    pods growing on its truss when it opened; plant_load: pods that the picking of its plant would have left on it by
    then, did all plants set alike (see courses.pods_left)."""

    kept: Floats
    plant: Integers
    truss: Integers
    rank: Floats
    opened: Integers
    truss_load: Floats
    plant_load: Floats


@attrs.frozen
class DayTest:
    """One test by shuffles within strata. statistic: in its own units, expected: its mean over the shuffles. p, with
    the smallest p that these flowers could give. flowers, trusses, plants: those in strata where outcomes differ."""

    statistic: float
    expected: float
    p: float
    smallest_p: float
    flowers: int
    trusses: int
    plants: int


def runs_within_days(flowers: FlowerArrays, draws: int = DRAWS, seed: int = SEED) -> DayTest | None:
    """Runs along all trusses, outcomes shuffled among flowers of one plant and day; None where nothing could differ."""
    shuffled = shuffles(flowers.kept, plant_days(flowers), draws, seed)
    same = flowers.truss[1:] == flowers.truss[:-1]
    changes = ((shuffled[:, 1:] != shuffled[:, :-1]) & same).sum(1) + np.unique(flowers.truss).size
    return _test(flowers, plant_days(flowers), changes.astype(np.float64), "both", draws)


def position_within_days(flowers: FlowerArrays, draws: int = DRAWS, seed: int = SEED) -> DayTest | None:
    """Whether setting falls or rises along the truss among flowers of one plant and day. statistic: mean place of the
    flowers that set less that of those that failed, as a share of the truss, within plant and day."""
    return _score_test(flowers, plant_days(flowers), flowers.rank, "both", draws, seed)


def truss_load_within_days(flowers: FlowerArrays, draws: int = DRAWS, seed: int = SEED) -> DayTest | None:
    """Whether flowers set less where more pods grow on their truss, among flowers of one plant and day, a smooth
    effect of position taken off. One-sided."""
    strata = plant_days(flowers)
    return _score_test(flowers, strata, beside(flowers.truss_load, flowers.rank, strata), "lower", draws, seed)


def plant_load_within_days(flowers: FlowerArrays, draws: int = DRAWS, seed: int = SEED) -> DayTest | None:
    """Whether flowers set less where picking left more pods on their plant, among flowers of one day. One-sided.

    Lasting differences between plants are taken off, and a smooth effect of position: what counts is how plants drew
    apart from one another as their loads did.
    """
    plants = (flowers.plant[:, None] == np.unique(flowers.plant)).astype(np.float64)
    scores = beside(flowers.plant_load, flowers.rank, flowers.opened, plants)
    return _score_test(flowers, flowers.opened, scores, "lower", draws, seed)


def shuffles(values: Floats, strata: Integers, draws: int, seed: int) -> Floats:
    """Values as seen, then shuffled within their strata, a row each."""
    order = np.argsort(strata, kind="stable")
    ranked = strata[order].astype(np.float64)
    keys = np.random.default_rng(seed).random((draws, values.size))
    # whole numbers of strata apart by 2, so that a key below 1 never leaves its stratum
    moved = np.argsort(np.unique(ranked, return_inverse=True)[1] * 2 + keys, axis=1)
    shuffled = np.empty((draws + 1, values.size))
    shuffled[0] = values
    shuffled[1:, order] = values[order][moved]
    return shuffled


def within(values: Floats, strata: Integers) -> Floats:
    """Values less the mean of their stratum."""
    _, place = np.unique(strata, return_inverse=True)
    return np.asarray(values - (np.bincount(place, values) / np.bincount(place))[place], dtype=np.float64)


def _score_test(
    flowers: FlowerArrays, strata: Integers, scores: Floats, side: Side, draws: int, seed: int
) -> DayTest | None:
    """Shuffles of the sum of scores of flowers that set; the statistic is the mean score of those that set less that of
    those that failed, within strata."""
    centred = within(scores, strata)
    if np.abs(centred).max(initial=0.0) < 1e-6:
        return None
    mixed = within(flowers.kept, strata)
    spread = float(mixed @ mixed)
    if spread < _NEAR:
        return None
    sums = shuffles(flowers.kept, strata, draws, seed) @ centred
    return _test(flowers, strata, sums / spread, side, draws)


def _test(
    flowers: FlowerArrays, strata: Integers, statistics: npt.NDArray[np.float64], side: Side, draws: int
) -> DayTest | None:
    differs = np.abs(within(flowers.kept, strata)) > _NEAR
    if not differs.any() or np.ptp(statistics) < _NEAR:
        return None
    middle = float(statistics.mean())
    away = middle - statistics if side == "lower" else np.abs(statistics - middle)
    as_far = int((away >= away[0] - _NEAR * (1 + abs(away[0]))).sum())
    return DayTest(
        float(statistics[0]), middle, as_far / (draws + 1), 1 / min(_arrangements(flowers.kept, strata), draws + 1),
        int(differs.sum()), int(np.unique(flowers.truss[differs]).size), int(np.unique(flowers.plant[differs]).size),
    )  # fmt: skip


def _arrangements(kept: Floats, strata: Integers) -> float:
    """In how many ways outcomes can stand within their strata, at most 1e300."""
    _, place = np.unique(strata, return_inverse=True)
    of, some = np.bincount(place), np.bincount(place, kept)
    logs = float((gammaln(of + 1) - gammaln(some + 1) - gammaln(of - some + 1)).sum())
    return round(math.exp(min(logs, 690.0)))


def plant_days(flowers: FlowerArrays) -> Integers:
    return np.unique(np.column_stack([flowers.plant, flowers.opened]), axis=0, return_inverse=True)[1].ravel()


def beside(scores: Floats, other: Floats, strata: Integers, more: Floats | None = None) -> Floats:
    """Scores within strata with what goes along with a curve of the other, up to its third power, and with further
    columns taken off."""
    own = within(scores, strata)
    columns = [other, other**2, other**3, *(() if more is None else more.T)]
    curve = np.column_stack([within(column, strata) for column in columns])
    return np.asarray(own - curve @ np.linalg.lstsq(curve, own, rcond=1e-8)[0], dtype=np.float64)
