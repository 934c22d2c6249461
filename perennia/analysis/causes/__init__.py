"""Questions about why plants did what they did: warmth, cold and water."""

from perennia.analysis.causes.warmth.degree_days import DegreeDays, degree_days

__all__ = ["DegreeDays", "degree_days"]
