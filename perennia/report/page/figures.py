"""The figure of a result on the page, with the table behind it."""

from __future__ import annotations

from typing import Any

import attrs

from perennia.analysis.result import Result
from perennia.errors import AnalysisError
from perennia.report.page.asking import sentence
from perennia.report.page.parts import Drawn, Part, Said, Tabled
from perennia.report.plotting import plot
from perennia.report.svg import as_svg


def drawn(result: Result, caption: str, table: Tabled, *, name: str = "", **options: Any) -> tuple[Part, ...]:
    """A figure over its table; where it cannot be drawn, the reason and the table alone.

    caption: what it shows, which is its text for those who cannot see it too. name: tells it from a figure that is
    alike. options are those of plot.
    """
    try:
        # the page says every caution below the figure
        figure = plot(attrs.evolve(result, cautions=()), **options)
    except AnalysisError as error:
        return Said(f"There is no figure of this. {sentence(str(error))}"), table
    return (Drawn(as_svg(figure, caption, name=name), caption, table),)
