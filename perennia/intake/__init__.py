"""Taking a grower's books into a garden."""

from perennia.intake.blank_workbook import template
from perennia.intake.books import OnError, read
from perennia.intake.corrections import CorrectionReport, correct
from perennia.intake.data_package import ExportReport, export
from perennia.intake.ghcn_daily import StationDays, ghcn_daily
from perennia.intake.printed_pages import book_pages
from perennia.intake.report import CellProblem, IntakeReport
from perennia.intake.station_weather import read_station

__all__ = [
    "CellProblem",
    "CorrectionReport",
    "ExportReport",
    "IntakeReport",
    "OnError",
    "StationDays",
    "book_pages",
    "correct",
    "export",
    "ghcn_daily",
    "read",
    "read_station",
    "template",
]
