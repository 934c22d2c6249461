"""Many curves together: as thin lines, or where there are too many as the band of their middle 80 in 100, with a middle
line."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from matplotlib.axes import Axes

from perennia.report.columns import Floats
from perennia.report.look import Stroke, area

MOST_LINES = 100
_POINTS = 120


@attrs.frozen(eq=False)
class Curve:
    """One curve: its points by rising x, and whether it is over, so that it stays level after its last."""

    x: Floats
    y: Floats
    over: bool = True


def grid_of(curves: Sequence[Curve]) -> Floats:
    """Points from the first of any curve to the last, at most some hundreds."""
    low, high = min(curve.x[0] for curve in curves), max(curve.x[-1] for curve in curves)
    return np.linspace(low, high, _POINTS) if high > low else np.array([low])


def read_at(curves: Sequence[Curve], grid: Floats, *, level_after: bool = True) -> Floats:
    """Curves by points: nothing before a curve's first, and after its last its last value if it is over, else nan."""
    rows = [
        np.interp(grid, one.x, one.y, left=0.0, right=np.nan if not one.over else one.y[-1] if level_after else 0.0)
        for one in curves
    ]
    return np.array(rows)


def corners(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """The points of a line at which it bends, with its ends: the same line with fewer of them."""
    if x.size < 3:
        return x, y
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = np.diff(y) / np.diff(x)
    bends = np.ones(x.size, dtype=bool)
    bends[1:-1] = ~np.isclose(slopes[1:], slopes[:-1], rtol=1e-6, atol=1e-9)
    return x[bends], y[bends]


def bundle(ax: Axes, curves: Sequence[Curve], stroke: Stroke, *, level_after: bool = True) -> tuple[float, float]:
    """Curves behind their median, drawn; over MOST_LINES of them as a band of the middle 80 in 100.

    Returns the last point of the median.
    """
    grid = grid_of(curves)
    values = read_at(curves, grid, level_after=level_after)
    # from where a running curve ends on, fewer would stand behind the median, and it would jump
    present = ~np.isnan(values).any(axis=0)
    grid, values = grid[present], values[:, present]
    if len(curves) > MOST_LINES:
        low, high = np.quantile(values, (0.1, 0.9), axis=0)
        ax.fill_between(grid, low, high, hatch=stroke.hatch or None, **area(stroke.colour))
    else:
        for curve in curves:
            ax.plot(*corners(curve.x, curve.y), color=stroke.colour, linewidth=0.6)
    middle = np.median(values, axis=0)
    ax.plot(*corners(grid, middle), color=stroke.colour, linestyle=stroke.line, linewidth=1.8)
    return float(grid[-1]), float(middle[-1])


def how_bundled(most: int) -> str:
    """What a bundle of so many curves shows, in a sentence."""
    if most > MOST_LINES:
        return (
            f"Thick: the median, day by day. The band holds the middle 80 in 100 where there are over {MOST_LINES} "
            "curves, thin lines are single ones."
        )
    return "Thin: one plant's season each. Thick: their median, day by day."
