"""Later seasons against the first of the same plants: every pair a line, and beside them the effect."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import SeasonComparison
from perennia.analysis.decisions.comparing.pairs import SURVIVOR
from perennia.analysis.measures import MEASURES, number, probability
from perennia.checking.words import counted
from perennia.report.columns import known, numbers
from perennia.report.drawing import figure_of
from perennia.report.effects import Effect, effect_rows, effects_alone, height_in
from perennia.report.look import BEHIND, BLUE, INK, VERMILLION
from perennia.report.measure_axis import gap_unit, value_axis
from perennia.report.sheet import grid, head, notes, nothing_in
from perennia.report.words import first_cautions

MOST_PAIRS = 150
"""Pairs of one picture that are drawn one by one; of more, the quantiles of each season."""
MOST_ANSWERS = 6
"""Crops, measures and seasons of which every pair is shown."""
_ANSWER = ["crop", "measure", "plant_season"]
_CAUTIONS = 4
_RAW = "×: gap of the means without a test."


@figure_of(SeasonComparison, axes="several", nothing="No plant has both its first season and a later one on record.")
def season_comparison(result: SeasonComparison) -> Figure:
    """A row a crop and later season: a dot a plant and season, joined plant by plant, and the effect."""
    answers = [own for _, own in result.table.groupby(_ANSWER, sort=True)]
    if len(answers) > MOST_ANSWERS:
        return _effects_alone(result)
    effects = [[_effect(row, several=False) for row in own.to_dict("records")] for own in answers]
    heights = [max(0.8, height_in(rows)) for rows in effects]
    figure, axes = grid(
        len(answers), 2, height_in=sum(heights) + 0.6 * len(heights), height_ratios=heights, width_ratios=[1, 1]
    )
    most = 0
    for own, rows, (left, right) in zip(answers, effects, axes, strict=True):
        row = own.iloc[0]
        units = result.by_unit[result.by_unit["basis"].eq(SURVIVOR)]
        for name in _ANSWER:
            units = units[units[name].eq(row[name])]
        most = max(most, len(units))
        _pairs(left, units, row)
        effect_rows(right, rows, gap_unit(MEASURES[str(row["measure"])]))
        left.set_title(f"{row['crop']}, plant season {row['plant_season']}", parse_math=False)
        right.set_title("later less first", parse_math=False)
    head(figure, "Later seasons against the first of the same plants", _key())
    said = ["A line is one plant, or plants linked by shared pickings; only those that kept their place are tested."]
    if result.table["shift"].isna().any():
        said.append(_RAW)
    if most > MOST_PAIRS:
        said.append(f"Over {MOST_PAIRS} pairs are drawn as the median and the middle 80 in 100 of each season.")
    notes(figure, [*said, *first_cautions(result, _CAUTIONS)])
    return figure


def _effects_alone(result: SeasonComparison) -> Figure:
    """A row a crop, season and basis; one axes a measure."""
    figure = effects_alone(result.table, lambda row: _effect(row, several=True))
    head(figure, "Later seasons less the first of the same plants")
    said = [f"Over {MOST_ANSWERS} answers; ask for one crop to see every plant.", _RAW]
    notes(figure, [*said, *first_cautions(result, _CAUTIONS)])
    return figure


def _pairs(ax: Axes, units: pd.DataFrame, row: Any) -> None:
    if units.empty:
        nothing_in(ax, "No pair has a value in both seasons.")
        return
    first, later = numbers(units, "first"), numbers(units, "later")
    value_axis(ax, MEASURES[str(row["measure"])], np.concatenate([first, later]), None)
    if len(units) > MOST_PAIRS:
        for y, values, colour in ((0, known(first), VERMILLION), (1, known(later), BLUE)):
            if values.size:
                low, middle, high = np.quantile(values, (0.1, 0.5, 0.9))
                ax.plot([low, high], [y, y], color=colour, linewidth=2.0)
                ax.plot([middle], [y], marker="o", color=colour)
    else:
        for start, end, changed in zip(first, later, units["changed"].notna(), strict=True):
            ax.plot([start, end], [0, 1], color=INK, linewidth=0.6, alpha=BEHIND, linestyle=":" if changed else "-",
                    gid="pair")  # fmt: skip
        stayed = units["changed"].isna().to_numpy(dtype=bool)
        for y, values, colour, marker in ((0, first, VERMILLION, "^"), (1, later, BLUE, "o")):
            for inside in (True, False):
                own = values[(stayed == inside) & np.isfinite(values)]
                if not own.size:
                    continue
                ax.plot(
                    own, np.full(own.size, y), marker=marker, color=colour, linestyle="none", markersize=3.8,
                    gid="units", markerfacecolor=colour if inside else "none", clip_on=False,
                )  # fmt: skip
    ax.set_yticks([0, 1], labels=["first season", f"season {row['plant_season']}, n = {len(units)}"])
    ax.set_ylim(1.35, -0.35)
    ax.tick_params(axis="y", length=0)


def _effect(row: Any, *, several: bool) -> Effect:
    name = str(row["basis"]).capitalize()
    if several:
        name = f"{row['crop']}, plant season {row['plant_season']}, {row['basis']}"
    if not pd.isna(row["shift"]):
        bounded = not (pd.isna(row["shift_low"]) and pd.isna(row["shift_high"]))
        words = counted(int(row["tested_pairs"]), "pair")
        words += f", {100 * row['level']:.4g} % interval" if bounded else ", which bound nothing"
        words += f", p {probability(float(row['p']))}"
        if not pd.isna(row["ratio"]) and np.isfinite(row["ratio"]):
            words += f", ratio {number(float(row['ratio']))}"
        return Effect(
            words=f"{name}: {words}", estimate=float(row["shift"]), low=_bound(row["shift_low"]),
            high=_bound(row["shift_high"]),
        )  # fmt: skip
    why = f"confounded with {row['confounded_with']}" if not pd.isna(row["confounded_with"]) else row["note"]
    words = f"no test{'' if pd.isna(why) else f': {why}'}; {counted(int(row['n_pairs']), 'pair')}"
    return Effect(words=f"{name}: {words}", raw=_bound(row["raw_gap"]))


def _bound(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _key() -> list[tuple[str, Line2D]]:
    return [
        ("first season", Line2D([], [], color=VERMILLION, marker="^", linestyle="none")),
        ("later season", Line2D([], [], color=BLUE, marker="o", linestyle="none")),
        ("changed its place, not in the test", Line2D(
            [], [], color=INK, marker="o", markerfacecolor="none", linestyle=":", linewidth=0.6, alpha=BEHIND)),
    ]  # fmt: skip
