"""Estimates with their intervals, one below the other, each under its words; and in words why there is none."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Any

import attrs
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from perennia.analysis.measures import MEASURES
from perennia.report.look import BLUE, INK, SMALL_PT
from perennia.report.measure_axis import gap_unit
from perennia.report.sheet import grid

BESIDE, _ALONE = 44, 105
"""Letters a line of text holds in axes that stand beside others, and in those of a whole sheet's width."""
_LINE_IN = (SMALL_PT - 0.5) * 1.4 / 72
_GAP = 2.0
"""Room for an interval, in lines of text."""


@attrs.frozen(kw_only=True)
class Effect:
    """One estimate. estimate: None where there was no test; low, high: None where unbounded; raw: the gap of the means
    where it stands alone; words: what stands over it."""

    words: str
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    raw: float | None = None


def effect_rows(
    ax: Axes, effects: Sequence[Effect], unit: str, wide: int = BESIDE, *, room_in: float = 0.0
) -> None:
    """Effects from top to bottom round a line at 0.

    wide: letters a line holds. room_in: height of the axes where it is more than the effects need.
    """
    ends = _ends(effects)
    ax.set_xlim(*ends)
    y = 0.2
    for one in effects:
        lines = textwrap.wrap(one.words, wide)
        ax.text(
            0.0, y, "\n".join(lines), transform=ax.get_yaxis_transform(), va="top", fontsize=SMALL_PT - 0.5,
            linespacing=1.15, parse_math=False, in_layout=False,
        )  # fmt: skip
        y += len(lines) + _GAP / 2
        if one.estimate is not None or one.raw is not None:
            ax.plot([0.0, 0.0], [y - 0.7, y + 0.7], color=INK, linewidth=0.8)
        if one.estimate is not None:
            _interval(ax, y, one, ends)
        elif one.raw is not None and np.isfinite(one.raw):
            ax.plot([one.raw], [y], marker="x", color=INK, linestyle="none", gid="raw")
        y += _GAP / 2
    ax.xaxis.set_major_locator(MaxNLocator(5))
    ax.set_ylim(max(y, room_in / _LINE_IN), 0.0)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    if all(one.estimate is None and one.raw is None for one in effects):
        ax.set_axis_off()
        return
    ax.set_xlabel(f"difference, {unit}")


def effects_alone(table: pd.DataFrame, effect: Callable[[Any], Effect]) -> Figure:
    """A sheet of effects without the units behind them, one axes a measure; effect: that of a row of the table."""
    groups = []
    for name, own in table.groupby("measure", sort=True):
        measure = MEASURES[str(name)]
        effects = [effect(row) for row in own.to_dict("records")]
        groups.append((measure.meaning, effects, gap_unit(measure)))
    heights = [height_in(effects, _ALONE) for _, effects, _ in groups]
    figure, axes = grid(len(groups), 1, height_in=sum(heights) + 0.6 * len(heights), height_ratios=heights)
    for (title, effects, unit), (ax,) in zip(groups, axes, strict=True):
        effect_rows(ax, effects, unit, _ALONE)
        ax.set_title(title, parse_math=False)
    return figure


def height_in(effects: Sequence[Effect], wide: int = BESIDE) -> float:
    """Height the axes need, in inches."""
    return sum(len(textwrap.wrap(one.words, wide)) + _GAP for one in effects) * _LINE_IN


def _ends(effects: Sequence[Effect]) -> tuple[float, float]:
    numbers = [
        number for one in effects for number in (one.estimate, one.low, one.high, one.raw)
        if number is not None and np.isfinite(number)
    ]  # fmt: skip
    reach = max([abs(number) for number in numbers], default=1.0) or 1.0
    return min([*numbers, 0.0]) - 0.08 * reach, max([*numbers, 0.0]) + 0.08 * reach


def _interval(ax: Axes, y: float, one: Effect, ends: tuple[float, float]) -> None:
    low, high = (end if end is not None and np.isfinite(end) else None for end in (one.low, one.high))
    start, stop = ends[0] if low is None else low, ends[1] if high is None else high
    ax.plot([start, stop], [y, y], color=BLUE, linewidth=1.4, gid="interval")
    for end, place, marker in ((low, start, "<"), (high, stop, ">")):
        if end is None:
            ax.plot([place], [y], marker=marker, color=BLUE, clip_on=False)
    if one.estimate is not None and np.isfinite(one.estimate):
        ax.plot([one.estimate], [y], marker="o", color=BLUE, markersize=5.0, linestyle="none", gid="estimate")
