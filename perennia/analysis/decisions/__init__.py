"""Questions whose answers decide what is kept and what is sown."""

from perennia.analysis.decisions.later_seasons import compare_seasons
from perennia.analysis.decisions.stock import compare_stock

__all__ = ["compare_seasons", "compare_stock"]
