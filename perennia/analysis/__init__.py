"""Questions of a garden, each a function that takes a Source and gives a frozen result."""

from perennia.analysis.causes import (
    DegreeDays,
    Due,
    Explanation,
    FrostDates,
    PodSet,
    SettingPatterns,
    WaterBalance,
    degree_days,
    due,
    explain_shortfall,
    frost_dates,
    pod_set,
    setting_patterns,
    water_balance,
)
from perennia.analysis.check import BooksCheck, check
from perennia.analysis.decisions import (
    ChangeComparison,
    KeepList,
    Pedigree,
    SeasonComparison,
    StockComparison,
    Survival,
    TrialPlan,
    compare_change,
    compare_seasons,
    compare_stock,
    keep_list,
    pedigree,
    plan_trial,
    survival,
)
from perennia.analysis.result import Result
from perennia.analysis.seasons import (
    Bearing,
    CurveFits,
    Flushes,
    GroupCurves,
    PlantLives,
    Projections,
    SeasonTable,
    bearing,
    fit_curves,
    flushes,
    group_curves,
    plant_lives,
    plant_seasons,
    project_totals,
    season_curves,
    season_summary,
)

__all__ = [
    "Bearing", "BooksCheck", "ChangeComparison", "CurveFits", "DegreeDays", "Due", "Explanation", "Flushes",
    "FrostDates", "GroupCurves", "KeepList", "Pedigree", "PlantLives", "PodSet", "Projections", "Result",
    "SeasonComparison", "SeasonTable", "SettingPatterns", "StockComparison", "Survival", "TrialPlan", "WaterBalance",
    "bearing", "check", "compare_change", "compare_seasons", "compare_stock", "degree_days", "due",
    "explain_shortfall", "fit_curves", "flushes", "frost_dates", "group_curves", "keep_list", "pedigree", "plan_trial",
    "plant_lives", "plant_seasons", "pod_set", "project_totals", "season_curves", "season_summary", "setting_patterns",
    "survival", "water_balance",
]  # fmt: skip
