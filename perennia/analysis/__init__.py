"""Questions of a garden, each a function that takes a Source and gives a frozen result."""

from perennia.analysis.check import BooksCheck, check
from perennia.analysis.decisions import compare_seasons, compare_stock
from perennia.analysis.result import Result
from perennia.analysis.seasons import SeasonTable, plant_seasons, season_curves, season_summary

__all__ = [
    "BooksCheck", "Result", "SeasonTable", "check", "compare_seasons", "compare_stock", "plant_seasons",
    "season_curves", "season_summary",
]  # fmt: skip
