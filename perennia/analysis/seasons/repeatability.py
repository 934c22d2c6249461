"""Do plants differ lastingly: what share of the spread between single seasons lies between the units of one crop?"""

from __future__ import annotations

import statistics

from perennia.analysis.seasons.histories import CropHistories
from perennia.analysis.seasons.variance import VarianceShares, level_columns, variance_components
from perennia.errors import AnalysisError

COLUMNS = {
    "crop": "string", "measure": "string", "n_units": "Int64", "n_repeated": "Int64", "n_seasons": "Int64",
    "n_values": "Int64", "between": "Float64", "within": "Float64", "repeatability": "Float64", "low": "Float64",
    "high": "Float64", "level": "Float64", "mean_of": "Int64", "repeatability_of_mean": "Float64", "note": "string",
}  # fmt: skip
"""Columns of Bearing.variance; one row a crop.

n_units, n_repeated, n_seasons, n_values: units, those with two seasons or more, seasons, and crops of a unit in a
season. between, within: variances between units and between the seasons of a unit, the season's own mean taken off, in
the squared unit of the measure. repeatability: between as a share of both; low, high its interval at level.
mean_of: the middle number of seasons of a unit, at least 2; repeatability_of_mean: that of the mean of so many seasons.
note: why there is none, or what to mind.
"""
ENOUGH_UNITS = 10
FEW = f"there are fewer than {ENOUGH_UNITS} units with two seasons or more, so that it tells little"
CLOSE = "the units differ by less than chance alone would bring about, so that there is no interval"


def variance_row(found: CropHistories) -> dict[str, object]:
    """The row of one crop."""
    counts = [len(unit.seasons) for unit in found.units]
    repeated = sum(count > 1 for count in counts)
    mean_of = max(2, int(statistics.median(count for count in counts if count > 1))) if repeated else None
    row: dict[str, object] = dict.fromkeys(COLUMNS)
    row |= {
        "crop": found.crop, "measure": found.measure.name, "n_units": len(counts), "n_repeated": repeated,
        "n_seasons": len({season.season for unit in found.units for season in unit.seasons}), "n_values": sum(counts),
        "mean_of": mean_of,
    }  # fmt: skip
    if len(counts) < 2:
        return row | {"note": "one unit alone has nothing to differ from"}
    if mean_of is None:
        return row | {"note": "no unit has a second season"}
    shares = _shares(found)
    if shares is None:
        return row | {"note": "too few units share their seasons to tell plants from seasons"}
    return row | {
        "between": shares.between, "within": shares.within, "repeatability": shares.repeatability,
        "low": shares.low, "high": shares.high, "level": shares.level if shares.low is not None else None,
        "repeatability_of_mean": shares.of_mean(mean_of), "note": _note(shares),
    }  # fmt: skip


def _shares(found: CropHistories) -> VarianceShares | None:
    """None where season and unit cannot be told apart."""
    entries = [(unit.unit, season) for unit in found.units for season in unit.seasons]
    try:
        return variance_components(
            [season.known_value for _, season in entries], [unit for unit, _ in entries],
            level_columns([(season.site, season.season) for _, season in entries]),
        )  # fmt: skip
    except AnalysisError:
        return None


def _note(shares: VarianceShares) -> str | None:
    if shares.repeatability is None:
        return "every unit cropped alike in every season"
    said = [CLOSE] if shares.empty else []
    if shares.within == 0:
        said.append("the units differ and their seasons do not, so that there is no interval")
    if shares.n_repeated < ENOUGH_UNITS:
        said.append(FEW)
    return "; ".join(said) or None
