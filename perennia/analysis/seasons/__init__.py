"""What each plant cropped in each season, and when."""

from perennia.analysis.seasons.curves import season_curves
from perennia.analysis.seasons.tables import SeasonTable, plant_seasons, season_summary

__all__ = ["SeasonTable", "plant_seasons", "season_curves", "season_summary"]
