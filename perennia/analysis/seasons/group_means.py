"""Mean curves over units on a grid of the axis, with a bootstrap band over what can be drawn independently."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import attrs
import numpy as np

from perennia.analysis.linked import linked
from perennia.analysis.permutation import Booleans, Floats, Integers
from perennia.analysis.seasons.curve_points import CurvePoints, multiples, read_at
from perennia.analysis.seasons.curve_question import CurveMeasure, CurveQuestion
from perennia.analysis.seasons.group_units import CurveUnit

FEWEST_FOR_A_BAND = 20
"""Units at a point below which a percentile bootstrap says too little; our own rule."""
RESAMPLES = 2_000
_LEVEL = 0.95
_SEED = 20
_DRAWS_AT_ONCE = 2_000_000


@attrs.frozen(eq=False)
class UnitCurves:
    """The curves of some units at the same axis values: one row a unit, one column a value, crop a plant.

    present: where a unit is in the mean. A running unit is until its last entry, a finished one to the end.
    """

    at: Floats
    cumulative: Floats
    per_day: Floats
    present: Booleans


@attrs.frozen(eq=False)
class Band:
    """Ends of the band at every axis value, missing as nan where fewer than FEWEST_FOR_A_BAND can be drawn."""

    low: Floats
    high: Floats


@attrs.frozen(eq=False)
class Group:
    """One group: the values that tell it from the others by column, None where not recorded; its units with their
    curves, what of them is drawn together, and the bands of the mean crop and of the mean rate."""

    key: dict[str, Any]
    measure: CurveMeasure
    season_name: str | None
    units: tuple[CurveUnit, ...]
    curves: UnitCurves
    together: Integers
    crop_band: Band
    rate_band: Band

    @property
    def n(self) -> Integers:
        """Units in the mean at each point."""
        found: Integers = self.curves.present.sum(axis=0)
        return found


def curves_of(units: Sequence[CurveUnit], points: CurvePoints, question: CurveQuestion) -> UnitCurves:
    """The curves of units from the first to the last point of any of them; without a picking there is no point."""
    at = _grid([ends for unit in units for ends in _ends(unit, points)], question)
    stops = [points.axis[curve.last - 1] for unit in units for curve in unit.curves if curve.stops]
    # the last point with all units in is one, whatever the step: what is said of the group is said of it
    at = np.union1d(at, [min(stops)] if stops else [])
    before = points.before["cumulative"].to_numpy(dtype=float)
    cumulative, per_day = (np.zeros((len(units), at.size)) for _ in range(2))
    present = np.ones((len(units), at.size), dtype=bool)
    for place, unit in enumerate(units):
        for curve in unit.curves:
            rows = slice(curve.first, curve.last)
            crop, rate = _label_at(points, before[rows], rows, at)
            cumulative[place] += crop / unit.plants
            per_day[place] += rate / unit.plants
            if curve.stops:
                present[place] &= at <= points.axis[curve.last - 1]
    there = present.any(axis=0)
    return UnitCurves(at[there], cumulative[:, there], per_day[:, there], present[:, there])


def mean_of(values: Floats, present: Booleans) -> Floats:
    """Mean over the units present at each point, nan where there is none."""
    n = present.sum(axis=0)
    total = np.where(present, values, 0).sum(axis=0)
    mean: Floats = np.divide(total, n, out=np.full(n.size, np.nan), where=n > 0)
    return mean


def drawn_together(units: Sequence[CurveUnit]) -> Integers:
    """By unit, the number of what it is drawn with: units of several seasons that hold the same plants are one."""
    return linked([unit.members for unit in units])


def bands(curves: UnitCurves, together: Integers) -> tuple[Band, Band]:
    """95 % bands of the mean cumulative crop and of the mean rate: percentile bootstrap, fixed seed.

    What is drawn is a unit, or the units of several seasons that hold the same plants. Efron and Tibshirani 1993, An
    Introduction to the Bootstrap, chapter 13.
    """
    clusters = int(together.max(initial=-1)) + 1
    sums = [np.zeros((clusters, curves.at.size)) for _ in range(3)]
    for total, values in zip(sums, (curves.cumulative, curves.per_day, np.ones(curves.present.shape)), strict=True):
        np.add.at(total, together, np.where(curves.present, values, 0))
    wide = (sums[2] > 0).sum(axis=0) >= FEWEST_FOR_A_BAND
    if not wide.any():
        none = Band(np.full(wide.size, np.nan), np.full(wide.size, np.nan))
        return none, none
    crop, rate, n = (total[:, wide] for total in sums)
    drawn: list[tuple[Floats, Floats]] = []
    random = np.random.default_rng(_SEED)
    at_once = max(1, _DRAWS_AT_ONCE // clusters)
    for done in range(0, RESAMPLES, at_once):
        draws = min(at_once, RESAMPLES - done)
        weights = random.multinomial(clusters, np.full(clusters, 1 / clusters), size=draws).astype(float)
        size = weights @ n
        # a resample can miss all that are there at a point; it then says nothing of it
        drawn.append(tuple(np.divide(weights @ t, size, out=np.full(size.shape, np.nan), where=size > 0)
                           for t in (crop, rate)))  # fmt: skip
    cumulative, per_day = (_percentiles(np.concatenate(blocks), wide) for blocks in zip(*drawn, strict=True))
    return cumulative, per_day


def _percentiles(means: Floats, wide: Booleans) -> Band:
    tail = (1 - _LEVEL) / 2
    quantile = np.nanquantile if np.isnan(means).any() else np.quantile
    ends = np.full((2, wide.size), np.nan)
    ends[:, wide] = quantile(means, [tail, 1 - tail], axis=0)
    return Band(ends[0], ends[1])


def _ends(unit: CurveUnit, points: CurvePoints) -> list[tuple[float, float, float]]:
    """Of every label, the axis value before its first day, at that day's end, and at its end."""
    return [
        (points.axis_before[curve.first], points.axis[curve.first], points.axis[curve.last - 1])
        for curve in unit.curves
    ]


def _grid(ends: Sequence[tuple[float, float, float]], question: CurveQuestion) -> Floats:
    if not ends:
        return np.zeros(0)
    before, first, last = zip(*ends, strict=True)
    if question.axis == "degree_days":
        return multiples(min(before), max(last), question.step)
    days = np.arange(min(first), max(last) + 1, question.step, dtype=float)
    return days if days[-1] == max(last) else np.append(days, max(last))


def _label_at(points: CurvePoints, before: Floats, rows: slice, at: Floats) -> tuple[Floats, Floats]:
    """One label's crop and rate at axis values: nothing before its curve, level and no rate after it."""
    cumulative, per_day = points.cumulative[rows], points.per_day[rows]
    row, part = read_at(points.axis[rows], points.axis_before[rows], at)
    over = row >= cumulative.size
    day = np.minimum(row, cumulative.size - 1)
    crop = np.where(over, cumulative[-1], before[day] + (cumulative[day] - before[day]) * part)
    rate = np.where(over | (part <= 0), 0.0, per_day[day])
    return crop, rate
