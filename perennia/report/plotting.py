"""plot: the figure of a result."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from perennia.analysis.result import Result
from perennia.errors import AnalysisError, ArgumentError
from perennia.report.drawing import draw
from perennia.report.look import in_our_look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_FIGURES = "perennia.report.figures"


def plot(result: Result, ax: Axes | None = None, **options: Any) -> Figure:
    """The figure of a result, drawn with matplotlib; options are those of its figure.

    ax: axes of one's own to draw in, for the figures of one axes; those of several refuse it. The figure is a
    matplotlib Figure outside pyplot: show it in a notebook, save it with savefig, or write it with report.as_svg. No
    setting of matplotlib is left changed, whatever thread draws. Where there is nothing to draw, the figure says so in
    a sentence.

    Raises AnalysisError for a result that has no figure and where matplotlib is not installed, ArgumentError for what
    is no result, for axes that are none, or that a figure of several cannot take, and for an option that the figure
    does not know.
    """
    if not isinstance(result, Result):
        raise ArgumentError(f"{type(result).__name__} is no result of a question; give what season_curves(...) gives")
    matplotlib = _matplotlib()
    if ax is not None and not isinstance(ax, matplotlib.axes.Axes):
        raise ArgumentError(f"ax is {ax!r:.40}; give the Axes of a matplotlib figure, or leave it out")
    with in_our_look():
        return draw(result, ax, **options)


def _matplotlib() -> Any:
    """matplotlib, with all figures registered. Raises AnalysisError where it is not installed."""
    try:
        import_module("matplotlib.axes")
    except ModuleNotFoundError as error:
        if error.name is None or error.name.partition(".")[0] != "matplotlib":
            raise
        raise AnalysisError("figures need matplotlib; install it with: pip install 'perennia[report]'") from error
    import_module(_FIGURES)
    return import_module("matplotlib")
