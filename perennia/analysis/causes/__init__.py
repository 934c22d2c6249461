"""Questions about why plants did what they did: warmth, cold and water."""

from perennia.analysis.causes.warmth.degree_days import DegreeDays, degree_days
from perennia.analysis.causes.warmth.frost_dates import FrostDates, frost_dates
from perennia.analysis.causes.water.water_balance import WaterBalance, water_balance

__all__ = ["DegreeDays", "FrostDates", "WaterBalance", "degree_days", "frost_dates", "water_balance"]
