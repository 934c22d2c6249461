"""How the crop of the same plants changes with every year of age, all of them and only those seen to the end.

Each unit gives one figure, the slope of a straight line through its seasons by least squares (with two seasons, their
difference a year), so that only differences within a unit count, and what one plant is above another does not. The
mean of these figures has a t interval over units.

A plant is a year older every year: age and year run side by side within every unit, whatever its beginning. Where all
began in one year they cannot be told apart at all, and there is no interval.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence

import numpy as np
from scipy import stats

from perennia.analysis.seasons.histories import CropHistories, History
from perennia.analysis.selection import SURVIVOR
from perennia.analysis.units import named

ALL = "all"
COLUMNS = {
    "crop": "string", "basis": "string", "measure": "string", "n_units": "Int64", "not_seen_through": "Int64",
    "tested_units": "Int64", "mean_crop": "Float64", "raw_change": "Float64", "change": "Float64", "low": "Float64",
    "high": "Float64", "level": "Float64", "began": "string", "youngest": "Int64", "oldest": "Int64",
    "confounded_with": "string", "changed_place": "Int64", "age_unknown": "Int64", "note": "string",
}  # fmt: skip
"""Columns of Bearing.trend; one row a crop and basis, "per survivor" and "all".

n_units: units with two seasons or more, that mean_crop and raw_change (mean change a year of age) rest on.
not_seen_through: units of the crop that died or were gone before the last season was over.
tested_units: those of the n_units of known age that kept their place, that change and its t interval low to high at
level rest on. began: seasons in which these began, with units (all of them where none kept its place). youngest,
oldest: plant seasons seen. changed_place, age_unknown: units left out of change. confounded_with: what cannot be told
from age. note: why there is no change.
"""
LEVEL = 0.95
FEWEST_UNITS = 3


def trend_rows(found: CropHistories) -> list[dict[str, object]]:
    """The two rows of one crop, or none where no unit has two seasons."""
    repeated = [unit for unit in found.units if len(unit.seasons) > 1]
    if not repeated:
        return []
    survivors = [unit for unit in repeated if unit.seen_through]
    return [_row(found, SURVIVOR, survivors), _row(found, ALL, repeated)]


def t_interval(values: Sequence[float], level: float) -> tuple[float, float]:
    """The t interval of the mean of independent values, n - 1 degrees of freedom."""
    half = stats.t.ppf((1 + level) / 2, len(values) - 1) * statistics.stdev(values) / math.sqrt(len(values))
    mean = statistics.fmean(values)
    return float(mean - half), float(mean + half)


def slope(unit: History) -> float:
    """Change a year by least squares."""
    return float(np.polynomial.polynomial.polyfit(np.array(unit.years) - unit.years[0], unit.values, 1)[1])


def _row(found: CropHistories, basis: str, units: Sequence[History]) -> dict[str, object]:
    tested = [unit for unit in units if not unit.changed and unit.began is not None]
    slopes = [slope(unit) for unit in tested]
    confounded, note = _against(units, tested)
    held = not note and not confounded
    low, high = t_interval(slopes, LEVEL) if held else (None, None)
    ages = [year - unit.began + 1 for unit in units if unit.began is not None for year in unit.years]
    return {
        "crop": found.crop, "basis": basis, "measure": found.measure.name, "n_units": len(units),
        "not_seen_through": sum(not unit.seen_through for unit in found.units),
        "tested_units": len(tested) if held else 0,
        "mean_crop": statistics.fmean(statistics.fmean(unit.values) for unit in units) if units else None,
        "raw_change": statistics.fmean(slope(unit) for unit in units) if units else None,
        "change": statistics.fmean(slopes) if held else None, "low": low, "high": high,
        "level": LEVEL if held else None,
        "began": _began(found, tested or units),
        "youngest": min(ages, default=None), "oldest": max(ages, default=None),
        "confounded_with": confounded,
        "changed_place": sum(bool(unit.changed) for unit in units),
        "age_unknown": sum(unit.began is None for unit in units), "note": note,
    }  # fmt: skip


def _against(units: Sequence[History], tested: Sequence[History]) -> tuple[str | None, str | None]:
    """What age is confounded with, and why there is no estimate otherwise."""
    if not units:
        return None, "no unit with two seasons was seen through the last season"
    changed = sorted({what for unit in units for what in unit.changed})
    if not tested:
        if any(unit.began is not None for unit in units) and changed:
            return f"change of {', '.join(changed)}", None
        return None, "the plants are of unknown or mixed age"
    if len(_beginnings(tested)) == 1:
        return "year", None
    if len(tested) < FEWEST_UNITS:
        return None, f"fewer than {FEWEST_UNITS} units of known age can be followed in one place"
    return None, None


def _beginnings(units: Sequence[History]) -> Counter[int]:
    return Counter(unit.began for unit in units if unit.began is not None)


def _began(found: CropHistories, units: Sequence[History]) -> str | None:
    named_years = []
    for year, n in sorted(_beginnings(units).items()):
        plants = {plant for unit in units if unit.began == year for plant in unit.plants}
        named_years.append(f"{named((row for row in found.rows if row['plant'] in plants), year)} ({n})")
    return ", ".join(named_years) or None
