"""Mean curves of groups: a picture a crop and season, with the band where there is one, else the curves of units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import GroupCurves
from perennia.analysis.name_order import in_order, ordered
from perennia.analysis.permutation import Booleans
from perennia.report.bundles import MOST_LINES, corners
from perennia.report.calendar_axis import date_axis, places_of
from perennia.report.columns import Floats, numbers
from perennia.report.drawing import figure_of
from perennia.report.look import SERIES, SMALL_PT, Stroke, area, of_place, of_stock
from perennia.report.sheet import grid, head, notes
from perennia.report.words import Named, crop_axis, end_names, line_of

MOST_PANELS = 24
_AXES = {
    "on": "date", "day_of_season": "day of the growing year", "days_since_start": "days since growth started",
    "degree_days": "degree-days since growth started, °C d",
}  # fmt: skip
_PARTING = ("crop", "measure", "season", "season_name")


@figure_of(GroupCurves, axes="several", nothing="No group has a curve for what was asked.")
def group_curves(result: GroupCurves) -> Figure:
    """A line a group, overwintered and fresh as everywhere, others in an order of their own."""
    table, by_unit = result.table, result.unit_curves
    axis = next(name for name in _AXES if name in table)
    keys = [str(name) for name in table.columns[: table.columns.get_loc(axis)]]
    parting = [name for name in _PARTING if name in (*keys, "measure")]
    lining = [name for name in keys if name not in parting]
    if "stock" in lining and len(table[lining].drop_duplicates()) > len(SERIES):
        # more lines than can be told apart: kinds of stock stay together, the rest parts pictures
        parting, lining = [*parting, *(name for name in lining if name != "stock")], ["stock"]
    strokes = _strokes(table, lining)
    pictures = [own for _, own in ordered(table, parting).groupby(parting, sort=False, dropna=False)]
    drawn = pictures[:MOST_PANELS]
    columns = min(len(drawn), 3)
    rows = -(-len(drawn) // columns)
    figure, axes = grid(rows, columns, height_in=2.1 * rows)
    flat = [ax for row in axes for ax in row]
    for ax, own in zip(flat, drawn, strict=False):
        units = by_unit[_alike(by_unit, own.iloc[0], parting)]
        _picture(ax, own, units, axis, lining, strokes)
        more = "".join(f", {_name(own.iloc[0], [name])}" for name in parting if name not in _PARTING)
        season = f", season {own['season_name'].iloc[0]}" if "season" in parting else ""
        ax.set_title(f"{own['crop'].iloc[0]}{season}{more}", fontsize=SMALL_PT, parse_math=False)
    for ax in flat[len(drawn):]:
        ax.set_axis_off()
    head(figure, "Mean crop of groups of plants", [(name, line_of(stroke)) for name, stroke in strokes.items()])
    said = ["Thick: mean of the units, n of them where most are in it. Band: 95 % bootstrap band, from 20 units on."]
    if (by_unit.groupby(keys, dropna=False)["unit"].nunique() > 0).any():
        said.append(f"Thin: single units where there is no band (at most {MOST_LINES} a group).")
    if len(pictures) > len(drawn):
        said.append(f"{len(pictures) - len(drawn)} more pictures are not drawn; ask for fewer crops or seasons.")
    notes(figure, [*said, *result.cautions[:1]])
    return figure


def _strokes(table: pd.DataFrame, lining: Sequence[str]) -> dict[str, Stroke]:
    """How each group is drawn, by its name."""
    names: dict[str, Any] = {}
    for row in table.drop_duplicates(lining).to_dict("records") if lining else table.head(1).to_dict("records"):
        names.setdefault(_name(row, lining), row.get("stock"))
    if lining == ["stock"]:
        return {name: of_stock(stock) for name, stock in names.items()}
    return {name: of_place(place) for place, name in enumerate(sorted(names, key=in_order))}


def _name(row: Any, lining: Sequence[str]) -> str:
    return ", ".join("not recorded" if pd.isna(row[name]) else str(row[name]) for name in lining) or "all plants"


def _alike(frame: pd.DataFrame, row: Any, names: Sequence[str]) -> Booleans:
    """Which rows have what one row has in some columns, missing being alike to missing."""
    alike = np.ones(len(frame), dtype=bool)
    for name in names:
        same = frame[name].isna() if pd.isna(row[name]) else frame[name].eq(row[name])
        alike &= same.to_numpy(dtype=bool, na_value=False)
    return alike


def _x(frame: pd.DataFrame, axis: str) -> Floats:
    return places_of(frame["on"], frame["season"]) if axis == "on" else numbers(frame, axis)


def _picture(
    ax: Axes, own: pd.DataFrame, units: pd.DataFrame, axis: str, lining: Sequence[str], strokes: dict[str, Stroke]
) -> None:
    names = []
    parted = ordered(own, lining).groupby(list(lining), sort=False, dropna=False) if lining else None
    groups = [own] if parted is None else [mine for _, mine in parted]
    for mine in groups:
        row = mine.iloc[0]
        stroke, x = strokes[_name(row, lining)], _x(mine, axis)
        mean, low, high = (
            numbers(mine, name) for name in ("mean_cumulative", "low_cumulative", "high_cumulative")
        )
        if np.isfinite(low).any():
            ax.fill_between(x, low, high, **area(stroke.colour))
        else:
            _single(ax, units, row, lining, axis, stroke)
        ax.plot(*corners(x, mean), color=stroke.colour, linestyle=stroke.line, linewidth=1.8)
        names.append(Named(float(x[-1]), float(mean[-1]), f"n = {int(mine['n'].max())}", stroke.colour))
    first = own.iloc[0]
    ax.set_ylabel(crop_axis(str(first["measure"]), "crop a plant"), fontsize=SMALL_PT)
    ax.set_ylim(0, None)
    left, right = ax.get_xlim()
    ax.set_xlim(left, right + 0.22 * (right - left))
    end_names(ax, names, 1.2)
    if axis == "on":
        date_axis(ax, {int(first["season"])}, most=4)
    else:
        ax.set_xlabel(_AXES[axis])


def _single(ax: Axes, units: pd.DataFrame, row: Any, lining: Sequence[str], axis: str, stroke: Stroke) -> None:
    """The curves of a group's units."""
    own = units[_alike(units, row, lining)]
    for _, one in list(own.groupby(["unit", "season"], sort=True))[:MOST_LINES]:
        x, y = corners(_x(one, axis), numbers(one, "cumulative"))
        ax.plot(x, y, color=stroke.colour, linewidth=0.6)
