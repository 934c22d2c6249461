"""Questions whose answers decide what is kept and what is sown."""

from perennia.analysis.decisions.comparing.change import ChangeComparison, compare_change
from perennia.analysis.decisions.comparing.later_seasons import SeasonComparison, compare_seasons
from perennia.analysis.decisions.comparing.stock import StockComparison, compare_stock

__all__ = [
    "ChangeComparison", "SeasonComparison", "StockComparison", "compare_change", "compare_seasons", "compare_stock",
]  # fmt: skip
