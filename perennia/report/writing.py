"""Laying a figure out and writing it as SVG, each once, and no text measured twice in one process.

Figure.savefig would do the same, but draw every figure once more beforehand and measure all its text anew: half the
time of a report with two figures a plant.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any, TextIO

from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

_POINTS_AN_INCH = 72
_NOTHING_OF_THE_DAY = {"Date": None, "Creator": None, "Format": None, "Type": None}


def settle(figure: Figure) -> None:
    """Lays the figure out once and for all: each drawing of an unsettled one would move its parts a little more."""
    engine = figure.get_layout_engine()
    if engine is not None:
        if figure.axes:
            canvas = figure.canvas
            _Measuring(figure)
            engine.execute(figure)
            figure.set_canvas(canvas)
        figure.set_layout_engine("none")


def write(figure: Figure, written: TextIO) -> None:
    """Writes a settled figure, without a background and without a date."""
    dpi, ground, edge = figure.dpi, figure.get_facecolor(), figure.get_edgecolor()
    figure.dpi = _POINTS_AN_INCH
    figure.set(facecolor="none", edgecolor="none")
    try:
        width, height = figure.get_size_inches() * _POINTS_AN_INCH
        renderer: Any = _Writing(  # type: ignore[no-untyped-call]
            width, height, written, image_dpi=dpi, metadata=_NOTHING_OF_THE_DAY
        )
        figure.draw(renderer)
        renderer.finalize()
    finally:
        figure.dpi = dpi
        figure.set(facecolor=ground, edgecolor=edge)


class _Measuring(FigureCanvasAgg):
    """What a figure is laid out on: nothing is drawn on it, so all figures of a resolution share one, with the widths
    of the texts that matplotlib keeps for each renderer."""

    def get_renderer(self) -> RendererAgg:
        return _measuring_at(self.figure.dpi)


@cache
def _measuring_at(dpi: float) -> RendererAgg:
    return RendererAgg(1, 1, dpi)  # type: ignore[no-untyped-call]


class _Writing(RendererSVG):
    """Writes SVG as its parent does, with the widths of texts kept from one figure to the next."""

    def get_text_width_height_descent(self, s: str, prop: FontProperties, ismath: Any) -> tuple[float, float, float]:
        return _extent(s, prop.copy(), ismath)


@lru_cache(8192)
def _extent(text: str, font: FontProperties, math: Any) -> tuple[float, float, float]:
    width, height, descent = text_to_path.get_text_width_height_descent(text, font, math)
    return width, height, descent
