"""Figures of results. Matplotlib, of the extra ``report``, is loaded when the first figure is drawn."""

from perennia.report.plotting import plot
from perennia.report.svg import as_svg

__all__ = ["as_svg", "plot"]
