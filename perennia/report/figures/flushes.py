"""The flushes of each plant's season, as bars along the year; where there are many, gathered."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import Flushes
from perennia.analysis.name_order import ordered
from perennia.report.calendar_axis import date_axis, places_of
from perennia.report.columns import numbers
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, INK, SMALL_PT
from perennia.report.rows import MOST_ROWS, height_of, name_rows
from perennia.report.sheet import Entry, head, notes, one_axes

_BAR: dict[str, Any] = {"color": BLUE, "linewidth": 2.2, "solid_capstyle": "butt"}
_SEASON = ["crop", "season", "season_name", "plant", "label"]


@figure_of(Flushes, axes="one", nothing="No season shows its flushes: it takes 5 pickings or more, not far apart.")
def flushes(result: Flushes, ax: Axes | None) -> Figure:
    """A row a plant's season: a bar from rise to fall of every flush, its peak, and its share of the season's crop."""
    frame = ordered(result.table, _SEASON)
    frame = frame.assign(**{
        name: places_of(frame[name], frame["season"]) for name in ("starts_on", "peak_on", "ends_on")
    })  # fmt: skip
    seasons = frame.groupby(_SEASON, sort=False)
    gathered = seasons.ngroups > MOST_ROWS
    parted = frame.groupby(["crop", "season", "of"], sort=True) if gathered else seasons
    rows = [own for _, own in parted]
    figure, drawn = one_axes(ax, height_of(len(rows)))
    names = [
        _gathered(drawn, y, own) if gathered else _each(drawn, y, own, frame["season"].nunique() > 1)
        for y, own in enumerate(rows)
    ]
    name_rows(drawn, names)
    date_axis(drawn, set(frame["season"].astype(int)))
    head(figure, f"Flushes of {seasons.ngroups} plant seasons", _key(gathered), ax)
    notes(figure, _words(frame, gathered), ax)
    return figure


def _each(ax: Axes, y: int, own: pd.DataFrame, several: bool) -> str:
    for row in own.to_dict("records"):
        end = row["peak_on"] if np.isnan(row["ends_on"]) else row["ends_on"]
        ax.plot([row["starts_on"], end], [y, y], gid="flush", **_BAR)
        ax.plot([row["peak_on"]], [y], marker="o", color=BLUE, markersize=5.0)
        if row["open"]:
            ax.plot([end], [y], marker=">", color=BLUE, markersize=6.0, markerfacecolor="none")
        if row["of"] > 1:
            ax.annotate(
                f"{100 * row['share']:.0f} %", (row["peak_on"], y), xytext=(0, 3.5), textcoords="offset points",
                ha="center", fontsize=SMALL_PT - 1.5,
            )  # fmt: skip
    first = own.iloc[0]
    return f"{first['label']}  {first['season_name']}" if several else str(first["label"])


def _gathered(ax: Axes, y: int, own: pd.DataFrame) -> str:
    for _, flush in own.groupby("flush", sort=True):
        peaks = numbers(flush, "peak_on")
        low, middle, high = np.quantile(peaks, (0.1, 0.5, 0.9))
        ax.plot([low, high], [y, y], gid="flush", **_BAR)
        ax.plot([middle], [y], marker="o", color=BLUE, markersize=5.0)
    row = own.iloc[0]
    flushes_of = "1 flush" if row["of"] == 1 else f"{row['of']} flushes"
    return f"{row['crop']}  {row['season_name']}, {flushes_of}, n = {own['plant'].nunique()}"


def _key(gathered: bool) -> list[Entry]:
    bar, dot = "half height to half height", "peak"
    if gathered:
        bar, dot = "middle 80 in 100 of the peaks", "median peak"
    return [
        (bar, Line2D([], [], **_BAR)),
        (dot, Line2D([], [], color=BLUE, marker="o", markersize=5.0, linestyle="none")),
        *([] if gathered else [
            ("may go on", Line2D([], [], color=INK, marker=">", markerfacecolor="none", linestyle="none"))
        ]),
    ]  # fmt: skip


def _words(frame: pd.DataFrame, gathered: bool) -> list[str]:
    said = ["Shares are of the season's crop, said where there are several flushes."]
    if gathered:
        said = [
            f"Over {MOST_ROWS} plant seasons, so those of a crop and season with as many flushes are drawn together. "
            "n: plants."
        ]
    if frame["open"].any():
        said.append("A season still running shows its flushes so far.")
    return said
