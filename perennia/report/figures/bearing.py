"""How evenly plants bear: the index of every unit, with what chance alone would give."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from perennia.analysis import Bearing
from perennia.analysis.seasons.alternation import SEASONS_NEEDED
from perennia.checking.words import counted
from perennia.report.columns import known, numbers
from perennia.report.dots import MOST_DOTS, dots, how_spread
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, FAINT, INK, OVERWINTERED, area
from perennia.report.rows import name_rows
from perennia.report.sheet import Entry, head, notes, one_axes


@figure_of(Bearing, axes="one", nothing="No season that is over, with a known crop, is on record for what was asked.")
def bearing(result: Bearing, ax: Axes | None) -> Figure:
    """A line a crop: a dot a unit, their mean, and the range that other orders of the same seasons give."""
    keys = result.table[["crop", "measure"]].drop_duplicates().sort_values(["crop", "measure"])
    figure, drawn = one_axes(ax, 0.5 + 0.7 * len(keys))
    names = []
    most = 0
    for y, (crop, measure) in enumerate(keys.itertuples(index=False)):
        units = result.table[result.table["crop"].eq(crop) & result.table["measure"].eq(measure)]
        values = known(numbers(units, "index"))
        most = max(most, values.size)
        dots(drawn, y, values, OVERWINTERED, (0.0, 1.0), high=0.5)
        chance = result.alternation
        _chance(drawn, y, chance[chance["crop"].eq(crop) & chance["measure"].eq(measure)])
        names.append(f"{crop}\n{measure}, n = {values.size}")
    name_rows(drawn, names)
    drawn.set_xlim(0, 1)
    drawn.grid(axis="x")
    drawn.set_xlabel("index of alternate bearing: 0 even, 1 every other season nothing")
    head(figure, "Do plants bear every other season?", _key(), ax)
    notes(figure, _words(result, most), ax)
    return figure


def _chance(ax: Axes, y: int, rows: pd.DataFrame) -> None:
    for row in rows.to_dict("records"):
        if not pd.isna(row["chance_low"]):
            width = row["chance_high"] - row["chance_low"]
            ax.barh([y], [width], left=row["chance_low"], height=0.8, **area(INK, FAINT / 2))
        ax.plot([row["index"]], [y], marker="|", color=INK, markersize=16.0, markeredgewidth=1.6, linestyle="none")


def _key() -> list[Entry]:
    return [
        ("a unit", Line2D([], [], color=BLUE, marker="o", markersize=3.5, linestyle="none")),
        ("mean of the units", Line2D([], [], color=INK, marker="|", markersize=10.0, linestyle="none")),
        ("where chance alone puts the mean", Patch(**area(INK, FAINT / 2))),
    ]


def _words(result: Bearing, most: int) -> list[str]:
    said = []
    blank = int(result.table["index"].isna().sum())
    if blank:
        said.append(f"{counted(blank, 'unit')} without an index, for it takes two neighbouring seasons: no dot.")
    for row in result.alternation.to_dict("records"):
        if not row["tellable"]:
            few = f"; it takes {SEASONS_NEEDED} in a row" if row["seasons"] < SEASONS_NEEDED else ""
            said.append(f"{row['crop']}: no order of its {counted(row['seasons'], 'season')} could lie above the range "
                        f"of chance{few}.")  # fmt: skip
    if most > MOST_DOTS:
        said.append(how_spread())
    return said
