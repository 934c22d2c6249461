"""Questions of a garden, each a function that takes a Source and gives a frozen result.

Each is loaded when it is first used, so that who asks one question does not wait for what all others need.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia import first_use

if TYPE_CHECKING:
    from perennia.analysis.books_check import BooksCheck, check
    from perennia.analysis.causes.due.due import Due, due
    from perennia.analysis.causes.setting.patterns import SettingPatterns, setting_patterns
    from perennia.analysis.causes.setting.pod_set import PodSet, pod_set
    from perennia.analysis.causes.shortfall.explain import Explanation, explain_shortfall
    from perennia.analysis.causes.warmth.degree_days import DegreeDays, degree_days
    from perennia.analysis.causes.warmth.frost_dates import FrostDates, frost_dates
    from perennia.analysis.causes.water.water_balance import WaterBalance, water_balance
    from perennia.analysis.decisions.comparing.change import ChangeComparison, compare_change
    from perennia.analysis.decisions.comparing.later_seasons import SeasonComparison, compare_seasons
    from perennia.analysis.decisions.comparing.stock import StockComparison, compare_stock
    from perennia.analysis.decisions.descent.pedigree import Pedigree, pedigree
    from perennia.analysis.decisions.keeping.keep_list import KeepList, keep_list
    from perennia.analysis.decisions.surviving.survival import Survival, survival
    from perennia.analysis.decisions.trials.trial import TrialPlan, plan_trial
    from perennia.analysis.result import Result
    from perennia.analysis.seasons.bearing import Bearing, bearing
    from perennia.analysis.seasons.curves import season_curves
    from perennia.analysis.seasons.fits import CurveFits, fit_curves
    from perennia.analysis.seasons.flushes import Flushes, flushes
    from perennia.analysis.seasons.group_curves import GroupCurves, group_curves
    from perennia.analysis.seasons.plant_lives import PlantLives, plant_lives
    from perennia.analysis.seasons.projections import Projections, project_totals
    from perennia.analysis.seasons.tables import SeasonTable, plant_seasons, season_summary

_HOMES = {
    "perennia.analysis.books_check": ("BooksCheck", "check"),
    "perennia.analysis.causes.due.due": ("Due", "due"),
    "perennia.analysis.causes.setting.patterns": ("SettingPatterns", "setting_patterns"),
    "perennia.analysis.causes.setting.pod_set": ("PodSet", "pod_set"),
    "perennia.analysis.causes.shortfall.explain": ("Explanation", "explain_shortfall"),
    "perennia.analysis.causes.warmth.degree_days": ("DegreeDays", "degree_days"),
    "perennia.analysis.causes.warmth.frost_dates": ("FrostDates", "frost_dates"),
    "perennia.analysis.causes.water.water_balance": ("WaterBalance", "water_balance"),
    "perennia.analysis.decisions.comparing.change": ("ChangeComparison", "compare_change"),
    "perennia.analysis.decisions.comparing.later_seasons": ("SeasonComparison", "compare_seasons"),
    "perennia.analysis.decisions.comparing.stock": ("StockComparison", "compare_stock"),
    "perennia.analysis.decisions.descent.pedigree": ("Pedigree", "pedigree"),
    "perennia.analysis.decisions.keeping.keep_list": ("KeepList", "keep_list"),
    "perennia.analysis.decisions.surviving.survival": ("Survival", "survival"),
    "perennia.analysis.decisions.trials.trial": ("TrialPlan", "plan_trial"),
    "perennia.analysis.result": ("Result",),
    "perennia.analysis.seasons.bearing": ("Bearing", "bearing"),
    "perennia.analysis.seasons.curves": ("season_curves",),
    "perennia.analysis.seasons.fits": ("CurveFits", "fit_curves"),
    "perennia.analysis.seasons.flushes": ("Flushes", "flushes"),
    "perennia.analysis.seasons.group_curves": ("GroupCurves", "group_curves"),
    "perennia.analysis.seasons.plant_lives": ("PlantLives", "plant_lives"),
    "perennia.analysis.seasons.projections": ("Projections", "project_totals"),
    "perennia.analysis.seasons.tables": ("SeasonTable", "plant_seasons", "season_summary"),
}  # fmt: skip
__getattr__, __dir__ = first_use.names(__name__, _HOMES)

__all__ = [
    "Bearing", "BooksCheck", "ChangeComparison", "CurveFits", "DegreeDays", "Due", "Explanation", "Flushes",
    "FrostDates", "GroupCurves", "KeepList", "Pedigree", "PlantLives", "PodSet", "Projections", "Result",
    "SeasonComparison", "SeasonTable", "SettingPatterns", "StockComparison", "Survival", "TrialPlan", "WaterBalance",
    "bearing", "check", "compare_change", "compare_seasons", "compare_stock", "degree_days", "due",
    "explain_shortfall", "fit_curves", "flushes", "frost_dates", "group_curves", "keep_list", "pedigree", "plan_trial",
    "plant_lives", "plant_seasons", "pod_set", "project_totals", "season_curves", "season_summary", "setting_patterns",
    "survival", "water_balance",
]  # fmt: skip
