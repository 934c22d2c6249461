"""Overwintered against fresh stock: every unit a dot in its stratum, and beside them the effect, or why none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import StockComparison
from perennia.analysis.decisions.comparing.stock_rows import SURVIVOR
from perennia.analysis.measures import MEASURES, number, probability
from perennia.analysis.name_order import in_order
from perennia.checking.words import counted
from perennia.report.columns import known, numbers
from perennia.report.dots import MOST_DOTS, dots, how_spread, most_dots
from perennia.report.drawing import figure_of
from perennia.report.effects import Effect, effect_rows, effects_alone, height_in
from perennia.report.look import INK, SMALL_PT, of_stock
from perennia.report.measure_axis import gap_unit, value_axis
from perennia.report.rows import MOST_ROWS
from perennia.report.sheet import grid, head, notes, nothing_in
from perennia.report.words import dot_of, first_cautions, shortened

MOST_ANSWERS = 6
"""Crops, seasons and measures of which every unit is shown."""
MOST_LANES = MOST_ROWS
"""Lines of units of one answer that are drawn, a kind of stock in a stratum each: more make a picture of metres."""
_ANSWER = ["crop", "seasons", "measure"]
_CAUTIONS = 4
_HEADING, _LANE_IN = 0.7, 0.24


@figure_of(StockComparison, axes="several", nothing="No plant of either kind of stock is on record for what was asked.")
def stock_comparison(result: StockComparison) -> Figure:
    """A row an answer with all its units while there are few; else the effects alone, a row each."""
    answers = [own for _, own in result.table.groupby(_ANSWER, sort=False)]
    if len(answers) > MOST_ANSWERS:
        return _effects_alone(result)
    units = [
        result.by_unit[result.by_unit["basis"].eq(SURVIVOR) & _same(result.by_unit, own.iloc[0])] for own in answers
    ]
    every = [_lanes(own) for own in units]
    lanes = [lane[:MOST_LANES] for lane in every]
    effects = [[_effect(row, several=False) for row in own.to_dict("records")] for own in answers]
    heights = [max(_high(lane) * _LANE_IN, height_in(rows)) for lane, rows in zip(lanes, effects, strict=True)]
    figure, axes = grid(
        len(answers), 2, height_in=sum(heights) + 0.6 * len(heights), height_ratios=heights, width_ratios=[1, 1]
    )
    sizes, room = [], most_dots(sum(map(len, units)))
    for own, mine, lane, rows, (left, right) in zip(answers, units, lanes, effects, axes, strict=True):
        sizes += _units(left, mine, lane, own.iloc[0], room)
        effect_rows(right, rows, gap_unit(MEASURES[str(own["measure"].iloc[0])]), room_in=_high(lane) * _LANE_IN)
        left.set_title(f"{own['crop'].iloc[0]} {own['seasons'].iloc[0]}", parse_math=False)
        right.set_title(f"{result.arms[0]} less {result.arms[1]}", parse_math=False)
    key = [(arm, dot_of(of_stock(arm))) for arm in result.arms]
    key += [("not in the test", dot_of(of_stock(result.arms[0]), hollow=True))]
    head(figure, f"{result.arms[0].capitalize()} against {result.arms[1]} stock", key)
    left_out = sum(len(lane) - MOST_LANES for lane in every if len(lane) > MOST_LANES)
    _say(figure, result, sizes, room, *_not_drawn(left_out))
    return figure


def _not_drawn(lanes: int) -> list[str]:
    """Of the lines that are left out, those of strata with one kind of stock, which are in no test, come first."""
    said = f"{counted(lanes, 'more line')} of units not drawn; the effect rests on all that are in the test."
    return [said] if lanes else []


def _same(frame: pd.DataFrame, row: Any) -> pd.Series[bool]:
    same: pd.Series[bool] = frame["crop"].eq(row["crop"]) & frame["seasons"].eq(row["seasons"])
    return same & frame["measure"].eq(row["measure"])


def _lanes(units: pd.DataFrame) -> list[tuple[str, str]]:
    """Strata with the kinds of stock in each, those of both first."""
    strata = units.assign(stratum=units["stratum"].fillna("no bed on record"))
    found = strata.groupby(["stratum", "stock"]).size().index.tolist()
    both = {stratum for stratum, _ in found if sum(one == stratum for one, _ in found) > 1}
    return sorted(found, key=lambda lane: (lane[0] not in both, in_order(lane[0]), lane[1] != "overwintered", lane[1]))


def _high(lanes: Sequence[tuple[str, str]]) -> float:
    """Height of lanes with the headings of their strata, in lanes."""
    return len(lanes) + _HEADING * len({stratum for stratum, _ in lanes}) + 0.3


def _units(ax: Axes, units: pd.DataFrame, lanes: Sequence[tuple[str, str]], row: Any, room: int) -> list[int]:
    """Draws the units; how many each lane has. room: above so many a lane is drawn as a whole."""
    if units.empty:
        nothing_in(ax, "No unit has a value.")
        return []
    measure = MEASURES[str(row["measure"])]
    season = None if pd.isna(row["season"]) else int(row["season"])
    span = value_axis(ax, measure, numbers(units, "value"), season)
    strata = units["stratum"].fillna("no bed on record")
    names, places, sizes = [], [], []
    y = -1.0
    for number_of, (stratum, stock) in enumerate(lanes):
        y += 1.0
        if number_of == 0 or lanes[number_of - 1][0] != stratum:
            y += _HEADING
            ax.text(
                0.01, y - 0.5, shortened(stratum, 50), transform=ax.get_yaxis_transform(), fontsize=SMALL_PT - 1,
                va="bottom", in_layout=False, parse_math=False,
            )  # fmt: skip
        own = units[strata.eq(stratum) & units["stock"].eq(stock)]
        for tested in (True, False):
            values = known(numbers(own[own["tested"].eq(tested)], "value"))
            dots(ax, y, values, of_stock(stock), span, hollow=not tested, most=room)
        values = known(numbers(own, "value"))
        sizes.append(values.size)
        if values.size > 1:
            ax.plot([values.mean()], [y], marker="|", markersize=12.0, color=INK, linestyle="none", gid="mean")
        never = int(own["never_cropped"].sum())
        bare = f", {never} never cropped" if never else ""
        names.append(f"{stock}, n = {values.size}{bare}")
        places.append(y)
    ax.set_yticks(places, labels=names, parse_math=False)
    ax.set_ylim(y + 0.5, -0.6)
    ax.tick_params(axis="y", length=0)
    return sizes


def _effect(row: Any, *, several: bool) -> Effect:
    """An answer as a row: per survivor, or per root kept, or of several answers by crop and season."""
    name = f"{row['crop']} {row['seasons']}, {row['basis']}" if several else str(row["basis"]).capitalize()
    if not pd.isna(row["shift"]):
        words = (
            f"{row['tested_arm']} against {row['tested_against']}, {100 * row['level']:.4g} % interval, "
            f"p {probability(float(row['p']))}"
        )
        if not pd.isna(row["ratio"]) and np.isfinite(row["ratio"]):
            words += f", ratio {number(float(row['ratio']))}"
        return Effect(
            words=f"{name}: {words}", estimate=float(row["shift"]), low=_bound(row["shift_low"]),
            high=_bound(row["shift_high"]),
        )  # fmt: skip
    raw = _bound(row["raw_gap"])
    counts = f"n = {row['n_arm']} and {row['n_against']}"
    if not pd.isna(row["confounded_with"]):
        why = f"no test: confounded with {row['confounded_with']}, which may as well be the reason; {counts}"
    elif not pd.isna(row["note"]):
        why = f"no test: {row['note']}; {counts}"
    else:
        why = f"no test; {counts}"
    return Effect(words=f"{name}: {why}", raw=raw)


def _bound(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _effects_alone(result: StockComparison) -> Figure:
    """A row a crop, season and basis; one axes a measure."""
    figure = effects_alone(result.table, lambda row: _effect(row, several=True))
    head(figure, f"{result.arms[0].capitalize()} less {result.arms[1]} stock, season by season")
    _say(figure, result, (), MOST_DOTS, f"Over {MOST_ANSWERS} answers; ask for one crop and season to see every plant.")
    return figure


def _say(figure: Figure, result: StockComparison, sizes: Sequence[int], room: int, *more: str) -> None:
    said = [*more, "×: gap of the means without a test, which may come from anything the arms do not share."]
    if any(0 < size <= room for size in sizes):
        said.append("A dot is a unit.")
    if any(sizes):
        said.append("A stroke is the mean of its line. Units are tested within their stratum.")
    if any(size > room for size in sizes):
        said.append(how_spread(room))
    notes(figure, [*said, *first_cautions(result, _CAUTIONS)])
