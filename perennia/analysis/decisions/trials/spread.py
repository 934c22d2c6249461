"""How much plants of one arm and place differ: the spread that a trial has to see through."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

import attrs
from scipy import stats

from perennia.analysis.measures import Measure, number
from perennia.analysis.units import Unit
from perennia.checking.words import counted


@attrs.frozen
class Spread:
    """Standard deviation between plants that share season, bed, cover, cultivar and stock, in the measure's unit.

    low, high: its interval at level by chi-square, which takes values for normal; missing where the grower gave it. df:
    degrees of freedom. n, strata: plant seasons, and the groups they stand in. mean: of the second arm, of all plants
    where that has none (mean_of says which), missing where nobody knows. left_out: units of several plants at once.
    """

    sd: float
    low: float | None
    high: float | None
    level: float
    df: int
    n: int
    strata: int
    mean: float | None
    mean_of: str
    left_out: int

    def sentence(self, measure: Measure) -> str:
        """Where the spread comes from, in words."""
        unit = "days" if measure.kind == "day" else measure.unit
        if self.low is None or self.high is None:
            return f"Spread between plants of one arm and block: {number(self.sd)} {unit}, as given."
        return (
            f"Spread between plants of one arm and block: {number(self.sd)} {unit} "
            f"({100 * self.level:.4g} % interval {number(self.low)} to {number(self.high)}), from "
            f"{counted(self.n, 'plant season')} on record in {counted(self.strata, 'group')} of one season, bed, "
            f"cover, cultivar and stock ({self.df} degrees of freedom)."
        )


def given_spread(sd: float, mean: float | None, level: float) -> Spread:
    """The spread a grower gives."""
    return Spread(sd, None, None, level, 0, 0, 0, mean, "as given", 0)


def residual_spread(units: Sequence[Unit], against: str, level: float) -> Spread | None:
    """The spread within groups, pooled; None where no group has two plants or they do not differ.

    Units of several plants or labels are left out and counted, for their means differ less than plants do; so are
    plants without a value or a bed and seasons still running.
    """
    usable = [unit for unit in units if unit.value is not None and unit.bed is not None and unit.grew
              and unit.stock is not None and not unit.running]  # fmt: skip
    single = [unit for unit in usable if unit.labels == 1 and unit.plants == 1]
    groups: dict[tuple[object, ...], list[float]] = {}
    for unit in single:
        key = (unit.season, unit.site, unit.bed, unit.cover, unit.cultivar, unit.stock)
        groups.setdefault(key, []).append(unit.known_value)
    several = [values for values in groups.values() if len(values) > 1]
    df = sum(len(values) - 1 for values in several)
    rest = sum((value - statistics.fmean(values)) ** 2 for values in several for value in values)
    if rest <= 0:
        return None
    sd = math.sqrt(rest / df)
    low, high = (sd * math.sqrt(df / float(stats.chi2.isf(tail, df))) for tail in ((1 - level) / 2, (1 + level) / 2))
    own = [unit.known_value for unit in single if unit.stock == against]
    all_of_them = [unit.known_value for unit in single]
    return Spread(
        sd, low, high, level, df, sum(map(len, several)), len(several), statistics.fmean(own or all_of_them),
        f"{against} plants" if own else "all plants", len(usable) - len(single),
    )  # fmt: skip
