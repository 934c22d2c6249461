"""Questions of a garden, each a function that takes a Source and gives a frozen result."""

from perennia.analysis.check import BooksCheck, check
from perennia.analysis.decisions import (
    ChangeComparison,
    SeasonComparison,
    StockComparison,
    compare_change,
    compare_seasons,
    compare_stock,
)
from perennia.analysis.result import Result
from perennia.analysis.seasons import (
    Bearing,
    CurveFits,
    Flushes,
    GroupCurves,
    Projections,
    SeasonTable,
    bearing,
    fit_curves,
    flushes,
    group_curves,
    plant_seasons,
    project_totals,
    season_curves,
    season_summary,
)

__all__ = [
    "Bearing", "BooksCheck", "ChangeComparison", "CurveFits", "Flushes", "GroupCurves", "Projections", "Result",
    "SeasonComparison", "SeasonTable", "StockComparison", "bearing", "check", "compare_change", "compare_seasons",
    "compare_stock", "fit_curves", "flushes", "group_curves", "plant_seasons", "project_totals", "season_curves",
    "season_summary",
]  # fmt: skip
