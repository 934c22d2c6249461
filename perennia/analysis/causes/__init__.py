"""Why a crop fell short, and what asks for attention: water, warmth, flowers, and what is due."""

from perennia.analysis.causes.due.due import Due, due
from perennia.analysis.causes.setting.patterns import SettingPatterns, setting_patterns
from perennia.analysis.causes.setting.pod_set import PodSet, pod_set
from perennia.analysis.causes.shortfall.explain import Explanation, explain_shortfall
from perennia.analysis.causes.warmth.degree_days import DegreeDays, degree_days
from perennia.analysis.causes.warmth.frost_dates import FrostDates, frost_dates
from perennia.analysis.causes.water.water_balance import WaterBalance, water_balance

__all__ = [
    "DegreeDays", "Due", "Explanation", "FrostDates", "PodSet", "SettingPatterns", "WaterBalance", "degree_days",
    "due", "explain_shortfall", "frost_dates", "pod_set", "setting_patterns", "water_balance",
]  # fmt: skip
