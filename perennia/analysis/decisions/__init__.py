"""Questions whose answers decide what is kept and what is sown."""

from perennia.analysis.decisions.comparing.change import ChangeComparison, compare_change
from perennia.analysis.decisions.comparing.later_seasons import SeasonComparison, compare_seasons
from perennia.analysis.decisions.comparing.stock import StockComparison, compare_stock
from perennia.analysis.decisions.descent.pedigree import Pedigree, pedigree
from perennia.analysis.decisions.keeping.keep_list import KeepList, keep_list
from perennia.analysis.decisions.surviving.survival import Survival, survival
from perennia.analysis.decisions.trials.trial import TrialPlan, plan_trial

__all__ = [
    "ChangeComparison", "KeepList", "Pedigree", "SeasonComparison", "StockComparison", "Survival", "TrialPlan",
    "compare_change", "compare_seasons", "compare_stock", "keep_list", "pedigree", "plan_trial", "survival",
]  # fmt: skip
