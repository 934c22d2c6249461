"""The season report as one HTML page. jinja2, of the extra ``report``, is loaded when a page is made."""

from perennia.report.page.season_report import season_report, write_season_report

__all__ = ["season_report", "write_season_report"]
