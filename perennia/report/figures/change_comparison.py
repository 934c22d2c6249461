"""How the same roots changed against fresh stock of the same two seasons."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import ChangeComparison
from perennia.analysis.measures import MEASURES, number, probability
from perennia.checking.words import counted
from perennia.report.columns import numbers
from perennia.report.dots import dots
from perennia.report.drawing import figure_of
from perennia.report.effects import Effect, effect_rows, effects_alone, height_in
from perennia.report.look import INK, SMALL_PT, of_stock
from perennia.report.measure_axis import gap_unit, value_axis
from perennia.report.rows import name_rows
from perennia.report.sheet import grid, head, notes
from perennia.report.words import dot_of, first_cautions

MOST_ANSWERS = 6
_ANSWER = ["crop", "measure", "plant_season", "first_season", "later_season"]
_LANES = (("roots", "first"), ("roots", "later"), ("fresh", "first"), ("fresh", "later"))
_STOCK = {"roots": "overwintered", "fresh": "fresh"}
_CAUTIONS = 4


@figure_of(ChangeComparison, axes="several", nothing="No root has both its first season and a later one on record.")
def change_comparison(result: ChangeComparison) -> Figure:
    """Answers with a gap one by one with their units while they are few; the others in words."""
    table = result.table
    held = table[table["gap"].notna()]
    if held.empty or len(held) > MOST_ANSWERS:
        figure = _gaps_alone(table)
    else:
        figure = _with_units(result, held)
    title = "Roots against fresh stock: the change of one less that of the other"
    head(figure, title, [(name, dot_of(of_stock(stock))) for name, stock in _STOCK.items()] if len(held) else ())
    said = ["×: gap without an interval, which says nothing by itself."]
    if 0 < len(held) <= MOST_ANSWERS and len(table) > len(held):
        reasons = table.loc[table["gap"].isna(), "note"].value_counts().sort_index()
        said += [f"{count} of {len(table)} without a gap: {reason}." for reason, count in reasons.items()]
    notes(figure, [*said, *first_cautions(result, _CAUTIONS)])
    return figure


def _with_units(result: ChangeComparison, held: pd.DataFrame) -> Figure:
    rows = held.to_dict("records")
    effects = [_effect(row, several=False) for row in rows]
    heights = [max(0.9, height_in([one])) for one in effects]
    figure, axes = grid(
        len(rows), 2, height_in=sum(heights) + 0.6 * len(heights), height_ratios=heights, width_ratios=[1, 1]
    )
    for row, effect, (left, right) in zip(rows, effects, axes, strict=True):
        units = result.by_unit
        for name in _ANSWER:
            units = units[units[name].eq(row[name])]
        measure = MEASURES[str(row["measure"])]
        _units(left, units, row)
        effect_rows(right, [effect], gap_unit(measure))
        left.set_title(f"{row['crop']}, {row['first_season']} to {row['later_season']}", parse_math=False)
    return figure


def _units(ax: Axes, units: pd.DataFrame, row: Any) -> None:
    values = np.concatenate([numbers(units, "first"), numbers(units, "later")])
    span = value_axis(ax, MEASURES[str(row["measure"])], values, None)
    names = []
    for y, (stock, when) in enumerate(_LANES):
        own = numbers(units[units["stock"].eq(stock)], when)
        own = own[~np.isnan(own)]
        dots(ax, y, own, of_stock(_STOCK[stock]), span, high=0.5)
        mean = row[f"mean_{stock}_{when}"]
        if not pd.isna(mean):
            ax.plot([mean], [y], marker="|", markersize=12.0, color=INK, linestyle="none")
        names.append(f"{stock}, {row[f'{when}_season']}, n = {own.size}")
    name_rows(ax, names)
    ax.tick_params(axis="y", labelsize=SMALL_PT - 0.5)


def _gaps_alone(table: pd.DataFrame) -> Figure:
    return effects_alone(table, lambda row: _effect(row, several=True))


def _effect(row: Any, *, several: bool) -> Effect:
    name = f"{row['crop']}, {row['first_season']} to {row['later_season']}: " if several else ""
    sizes = f"{counted(int(row['n_roots']), 'root')}, {row['n_fresh_first']} and {row['n_fresh_later']} fresh"
    note = "" if pd.isna(row["note"]) else f"; {row['note']}"
    if pd.isna(row["gap_low"]):
        return Effect(words=f"{name}{sizes}{note}", raw=None if pd.isna(row["gap"]) else float(row["gap"]))
    ratio = "" if pd.isna(row["ratio"]) else f", ratio {number(float(row['ratio']))}"
    words = f"{sizes}, {100 * row['level']:.4g} % interval, p {probability(float(row['p']))}{ratio}{note}"
    return Effect(
        words=f"{name}{words}", estimate=float(row["gap"]), low=float(row["gap_low"]), high=float(row["gap_high"])
    )
