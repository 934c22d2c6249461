"""Figures of results, and the season report. Matplotlib and jinja2, of the extra ``report``, load when first needed."""

from perennia.report.page import season_report, write_season_report
from perennia.report.pdf import write_pdf
from perennia.report.plotting import plot
from perennia.report.svg import as_svg, colours_on_dark

__all__ = ["as_svg", "colours_on_dark", "plot", "season_report", "write_pdf", "write_season_report"]
