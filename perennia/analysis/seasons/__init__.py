"""What each plant cropped in each season, and when; how it came in, and how plants bear from year to year."""

from perennia.analysis.seasons.bearing import Bearing, bearing
from perennia.analysis.seasons.curves import season_curves
from perennia.analysis.seasons.fits import CurveFits, fit_curves
from perennia.analysis.seasons.flushes import Flushes, flushes
from perennia.analysis.seasons.group_curves import GroupCurves, group_curves
from perennia.analysis.seasons.plant_lives import PlantLives, plant_lives
from perennia.analysis.seasons.projections import Projections, project_totals
from perennia.analysis.seasons.tables import SeasonTable, plant_seasons, season_summary

__all__ = [
    "Bearing", "CurveFits", "Flushes", "GroupCurves", "PlantLives", "Projections", "SeasonTable", "bearing",
    "fit_curves", "flushes", "group_curves", "plant_lives", "plant_seasons", "project_totals", "season_curves",
    "season_summary",
]  # fmt: skip
