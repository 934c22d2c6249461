"""What each unit of a crop is expected to bear in the season to come, should it live.

Crop of a unit in a season = season of the site + age (first season or later, only where it can be told) + effect of the
unit + rest; effects of units are drawn towards 0 by the repeatability and the number of seasons (shrinkage.py). The
season to come is taken as a mean season: the mean of those on record that are over.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Collection, Sequence
from typing import Literal

import attrs
import numpy as np
from scipy import stats

from perennia.analysis.decisions.keeping.keep_age import Age, age_of
from perennia.analysis.permutation import Floats
from perennia.analysis.seasons.histories import CropHistories
from perennia.analysis.seasons.repeatability import ENOUGH_UNITS
from perennia.analysis.seasons.shrinkage import Shrunken, shrunken_effects
from perennia.analysis.seasons.variance import VarianceShares, variance_components
from perennia.analysis.units import Unit
from perennia.checking.words import counted
from perennia.errors import AnalysisError

Basis = Literal["records", "repeatability", "none"]
Cell = tuple[str | None, int]
ENOUGH_SEASONS = 3
"""Seasons of a site from which the spread from season to season is taken up in an interval."""
_LARGEST_RATIO = 1e9


@attrs.frozen(kw_only=True)
class Forecast:
    """What one unit, or one with no record, is expected to bear a plant in a mean season.

    effect: its own, drawn towards 0; missing where units are not told apart. variance: of the error of the mean alone.
    single: of a single season's crop about the mean, the season's own part left out. low, high: where such a crop is
    expected to lie; missing where nothing shows the spread. holds_season: whether that of seasons is in it.
    """

    mean: float
    effect: float | None
    variance: float
    single: float
    low: float | None
    high: float | None
    holds_season: bool


@attrs.frozen(kw_only=True, eq=False)
class Outlook:
    """What the records of a crop say of the season to come.

    basis: whether units are told apart by their records, by the grower's own repeatability, or not at all, and then
    why_none. share: the repeatability gone by. shares: the variances found, where they could be. n_units, n_repeated,
    n_values: units with a known crop, those with two seasons or more, and seasons of theirs. seasons: names of the
    seasons on record. mean_seasons: of those, the ones that make up the mean season. season_variance: from season to
    season, with season_df; missing with too few seasons.
    """

    level: float
    basis: Basis
    why_none: str | None
    share: float | None
    shares: VarianceShares | None
    n_units: int
    n_repeated: int
    n_values: int
    age: Age
    season_variance: float | None
    season_df: int
    cells: tuple[Cell, ...]
    over: frozenset[Cell]
    model: Shrunken | None

    def forecast(self, unit: str, site: str | None) -> Forecast | None:
        """What a unit at a site is expected to bear, with its interval; None where nothing at all is on record."""
        if self.model is None:
            return None
        mean = mean_season(self.cells, self.over, site)
        found = self.model.expected(unit, [*mean, *self.age.columns_later(unit, unit in self.model.effects)])
        variance = found.from_effect + found.from_fixed
        single = variance + self.model.within
        parts = [
            (found.from_effect, max(self.n_units - 1, 1)),
            (self.model.within + found.from_fixed, max(self.model.residual_df - self.n_units + 1, 1)
             if self.basis == "records" else self.model.residual_df),
            (self.season_variance or 0.0, max(self.season_df, 1)),
        ]  # fmt: skip
        half = half_width(parts, self.level)
        effect = None if self.basis == "none" else self.model.effects.get(unit, 0.0)
        # no crop is below nothing
        return Forecast(
            mean=max(found.mean, 0.0), effect=effect, variance=variance, single=single,
            low=max(found.mean - half, 0.0), high=max(found.mean + half, 0.0),
            holds_season=self.season_variance is not None,
        )  # fmt: skip


def outlook(found: CropHistories, season: int, running: Collection[Cell], repeatability: float | None,
            level: float) -> Outlook:  # fmt: skip
    """The outlook of a crop from the histories of its units up to the season.

    running: cells of site and season in which plants had not done; they tell plants apart, but make up no mean season.
    """
    entries = [(unit.unit, one) for unit in found.units for one in unit.seasons]
    cells = tuple(sorted({_cell(one) for _, one in entries}, key=str))
    over = frozenset(cells) - frozenset(running) or frozenset(cells)
    values, names = [one.known_value for _, one in entries], [name for name, _ in entries]
    repeated = sum(len(unit.seasons) > 1 for unit in found.units)
    age = age_of(found, entries, season)
    columns = _columns(entries, cells, age)
    shares = _shares(values, names, columns)
    basis, why = _basis(shares, repeated, repeatability)
    if age.told and (basis == "none" or not _parted(columns, len(cells))):
        # without effects of plants, those that lasted would stand for later seasons
        age = age.untold(f"plants are not told apart, so that their own lead cannot be parted from age: {why}"
                         if basis == "none" else "age cannot be parted from the seasons it was seen in")  # fmt: skip
        columns = _columns(entries, cells, age)
        shares = _shares(values, names, columns)
        basis, why = _basis(shares, repeated, repeatability)
    share = repeatability if basis == "repeatability" else None
    if basis == "records" and shares is not None:
        share = shares.repeatability
    model = _model(values, names, columns, _ratio(share))
    variance, df = (None, 0) if model is None else _season_spread(model, cells, over)
    return Outlook(
        level=level, basis=basis if model is not None else "none",
        why_none=why if model is not None or why else "too few crops are on record to know their spread",
        share=share if model is not None else None, shares=shares, n_units=len(found.units), n_repeated=repeated,
        n_values=len(entries), age=age.with_estimate(model, len(cells), level), season_variance=variance, season_df=df,
        cells=cells, over=over, model=model,
    )  # fmt: skip


def mean_season(cells: Sequence[Cell], over: Collection[Cell], site: str | None) -> list[float]:
    """Weights of the cells that make up the mean season of a site; of all sites where it has none on record."""
    own = [cell for cell in cells if cell[0] == site]
    taken = [cell for cell in own if cell in over] or own or [cell for cell in cells if cell in over]
    return [1 / len(taken) if cell in taken else 0.0 for cell in cells]


def half_width(parts: Sequence[tuple[float, int]], level: float) -> float:
    """Half of the interval for an error of several parts, each a variance with its degrees of freedom (Satterthwaite
    1946, Biometrics Bulletin 2: 110-114, doi:10.2307/3002019)."""
    total = sum(variance for variance, _ in parts)
    if total <= 0:
        return 0.0
    df = total**2 / sum(variance**2 / df for variance, df in parts)
    return float(stats.t.ppf((1 + level) / 2, df)) * math.sqrt(total)


def _cell(unit: Unit) -> Cell:
    return unit.site, unit.season


def _columns(entries: Sequence[tuple[str, Unit]], cells: Sequence[Cell], age: Age) -> Floats:
    """One column a season of a site, and those of age."""
    rows = [[*(float(_cell(one) == cell) for cell in cells), *age.columns(name, one)] for name, one in entries]
    return np.array(rows, dtype=np.float64)


def _parted(columns: Floats, cells: int) -> bool:
    """Whether what is said of age does not follow from the seasons alone."""
    of_age: int = columns.shape[1] - cells
    alone, together = (int(np.linalg.matrix_rank(some)) for some in (columns[:, :cells], columns))
    return together == alone + of_age


def _shares(values: Sequence[float], names: Sequence[str], columns: Floats) -> VarianceShares | None:
    """None where plants and seasons cannot be told apart."""
    if not values:
        return None
    try:
        return variance_components(values, names, columns)
    except AnalysisError:
        return None


def _basis(shares: VarianceShares | None, repeated: int, repeatability: float | None) -> tuple[Basis, str | None]:
    """What units are told apart by, and if nothing, why."""
    if repeatability is not None:
        return ("repeatability", None) if repeatability > 0 else ("none", "the repeatability given is 0")
    if repeated < ENOUGH_UNITS:
        seen = f"{counted(repeated, 'unit')} with a known crop in two seasons or more"
        return "none", f"{seen}, and it takes {ENOUGH_UNITS}"
    if shares is None or shares.repeatability is None:
        return "none", "nothing in the records tells plants from seasons"
    if shares.repeatability == 0:
        return "none", "the variance between plants is estimated as zero"
    return "records", None


def _ratio(share: float | None) -> float:
    """The ratio of the variances; none where plants are not told apart."""
    if share is None:
        return 0.0
    return _LARGEST_RATIO if share >= 1 else min(share / (1 - share), _LARGEST_RATIO)


def _model(values: Sequence[float], names: Sequence[str], columns: Floats, ratio: float) -> Shrunken | None:
    """None where too little is on record to know any spread."""
    if not values:
        return None
    try:
        return shrunken_effects(values, names, columns, ratio=ratio)
    except AnalysisError:
        return None


def _season_spread(model: Shrunken, cells: Sequence[Cell], over: Collection[Cell]) -> tuple[float | None, int]:
    """The variance with which a season to come lies about the mean of those on record, and its degrees of freedom.

    What the means of seasons owe to the plants they rest on is left in, so that it is rather too large than too small.
    """
    groups: dict[str | None, list[float]] = {}
    for place, cell in enumerate(cells, 1):
        if cell in over:
            groups.setdefault(cell[0], []).append(float(model.fixed[place]))
    told = [group for group in groups.values() if len(group) > 1]
    if max(map(len, told), default=0) < ENOUGH_SEASONS:
        return None, 0
    df = sum(len(group) - 1 for group in told)
    pooled = sum(statistics.variance(group) * (len(group) - 1) for group in told) / df
    return pooled * (1 + 1 / max(map(len, told))), df
