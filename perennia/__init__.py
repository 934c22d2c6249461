"""perennia: records of perennial crops kept through several seasons, and what they show.

Everything named here is loaded when it is first used, so that ``import perennia`` stays light.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia import first_use

if TYPE_CHECKING:
    from perennia.analysis import (
        Bearing,
        BooksCheck,
        ChangeComparison,
        CurveFits,
        DegreeDays,
        Due,
        Explanation,
        Flushes,
        FrostDates,
        GroupCurves,
        KeepList,
        Pedigree,
        PlantLives,
        PodSet,
        Projections,
        Result,
        SeasonComparison,
        SeasonTable,
        SettingPatterns,
        StockComparison,
        Survival,
        TrialPlan,
        WaterBalance,
        bearing,
        compare_change,
        compare_seasons,
        compare_stock,
        degree_days,
        due,
        explain_shortfall,
        fit_curves,
        flushes,
        frost_dates,
        group_curves,
        keep_list,
        pedigree,
        plan_trial,
        plant_lives,
        plant_seasons,
        pod_set,
        project_totals,
        season_curves,
        season_summary,
        setting_patterns,
        survival,
        water_balance,
    )
    from perennia.checking import Doubt
    from perennia.errors import PerenniaError, Problem, RefusedError
    from perennia.garden import Garden, Receipt
    from perennia.records import *  # noqa: F403  the record classes
    from perennia.report import as_svg, plot, season_report, write_season_report
    from perennia.source import Source

__version__ = "0.1.0"

_HOMES = {
    "perennia.analysis": (
        "Bearing", "BooksCheck", "ChangeComparison", "CurveFits", "DegreeDays", "Due", "Explanation", "Flushes",
        "FrostDates", "GroupCurves", "KeepList", "Pedigree", "PlantLives", "PodSet", "Projections", "Result",
        "SeasonComparison", "SeasonTable", "SettingPatterns", "StockComparison", "Survival", "TrialPlan",
        "WaterBalance", "bearing", "check", "compare_change", "compare_seasons", "compare_stock", "degree_days", "due",
        "explain_shortfall", "fit_curves", "flushes", "frost_dates", "group_curves", "keep_list", "pedigree",
        "plan_trial", "plant_lives", "plant_seasons", "pod_set", "project_totals", "season_curves", "season_summary",
        "setting_patterns", "survival", "water_balance",
    ),
    "perennia.checking": ("Doubt",),
    "perennia.errors": ("PerenniaError", "Problem", "RefusedError"),
    "perennia.garden": ("Garden", "Receipt"),
    "perennia.report": ("as_svg", "plot", "season_report", "write_season_report"),
    "perennia.source": ("Source",),
    "perennia.records": (
        "Acquired", "Allotted", "AlreadyHere", "Bed", "BooksKept", "Counted", "Covered", "CutBack", "CuttingTaken",
        "Damage", "Died", "DiedBack", "Divided", "Emerged", "Fed", "FlowerFate", "Flowered", "GerminationTest",
        "HandPollinated", "LeftForSeed", "Lifted", "Moved", "Mulched", "Neighbour", "Noted", "Picked", "Planted",
        "Record", "Regrew", "Removed", "Replanted", "SeedSaved", "Site", "SoilMoisture", "Sown", "Span",
        "StoreChecked", "Stored", "TrussCount", "Uncovered", "Visits", "Watered", "Weather",
    ),
}  # fmt: skip
__all__ = ["__version__", *(name for own in _HOMES.values() for name in own)]  # noqa: PLE0604  names are strings
__getattr__, __dir__ = first_use.names(__name__, _HOMES)
