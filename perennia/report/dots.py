"""Every unit a dot, beside its like where they would lie on each other; where there are too many, their spread."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from perennia.report.columns import Floats
from perennia.report.look import Stroke

MOST_DOTS = 300
MOST_ON_A_SHEET = 1200
_MOST_OF_A_CROWD = 12
_CLASSES = 70


def most_dots(units: int) -> int:
    """The most units of one line that are each a dot, on a sheet of so many units."""
    return MOST_DOTS if units <= MOST_ON_A_SHEET else _MOST_OF_A_CROWD


def how_spread(most: int = MOST_DOTS) -> str:
    """What stands under a sheet on which a line of more than most units is no line of dots."""
    return f"Over {most} units in one line are drawn as their median and the middle 80 in 100."


def dots(
    ax: Axes, y: float, values: Floats, stroke: Stroke, span: tuple[float, float], *, hollow: bool = False,
    high: float = 0.7, most: int = MOST_DOTS,
) -> None:  # fmt: skip
    """Values along a line at y, no wider than high. span: the values of the whole axis, by which dots lie near. most:
    above so many, where they are spread."""
    if not values.size:
        return
    if values.size > most:
        low, middle, top = np.quantile(values, (0.1, 0.5, 0.9))
        ax.plot([low, top], [y, y], color=stroke.colour, linewidth=2.0, linestyle=stroke.line)
        ax.plot([middle], [y], marker=stroke.marker, color=stroke.colour, markersize=6.0)
        return
    ax.plot(
        values, y + _aside(values, span, high), marker=stroke.marker, color=stroke.colour, linestyle="none", alpha=0.8,
        markersize=3.5, markeredgewidth=0.8, markerfacecolor="none" if hollow else stroke.colour, gid="units",
        clip_on=False,
    )  # fmt: skip


def _aside(values: Floats, span: tuple[float, float], high: float) -> Floats:
    """How far each lies off the line, so that those near each other lie side by side, the same every time."""
    width = max(span[1] - span[0], 1e-9) / _CLASSES
    classes = np.floor((values - span[0]) / width).astype(np.int64)
    off = np.zeros(values.size)
    most = max((int(count) for count in np.unique(classes, return_counts=True)[1]), default=1)
    step = min(high / max(most - 1, 1), 0.16)
    for found in np.unique(classes):
        there = np.flatnonzero(classes == found)
        off[there] = step * (np.arange(there.size) - (there.size - 1) / 2)
    return off
