"""Which figure a table of seasons has: by its columns, for three questions answer with one class."""

from __future__ import annotations

from matplotlib.figure import Figure

from perennia.analysis import SeasonTable
from perennia.errors import AnalysisError, ArgumentError
from perennia.report.drawing import figure_of
from perennia.report.figures.season_curves import Shown, draw_curves
from perennia.report.figures.season_summary import draw_summary


@figure_of(SeasonTable, axes="several", nothing="No plant has a crop on record for what was asked.")
def season_table(result: SeasonTable, *, summary: SeasonTable | None = None, show: Shown | None = None) -> Figure:
    """The curves of season_curves, or the crops and dates of season_summary.

    summary: what season_summary answers for the same plants, to mark t10 to t90 and the peak on their curves. show:
    "cumulative" or "rate"; both where not given and there is room.
    """
    if "cumulative" in result.table:
        return draw_curves(result, summary, show)
    if summary is not None or show is not None:
        raise ArgumentError("summary and show are options of the figure of season_curves; leave them out here")
    if "t50" in result.table:
        return draw_summary(result)
    raise AnalysisError("what plants were in each season has no figure; plot plant_lives(garden) for their lives")
