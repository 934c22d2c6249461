"""What running seasons may come to: the crop so far, and the projected one with its interval."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import Projections
from perennia.analysis.name_order import in_order
from perennia.checking.words import counted
from perennia.report.columns import highest, numbers
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, INK, VERMILLION, area
from perennia.report.rows import MOST_ROWS, height_of, name_rows, thinned
from perennia.report.sheet import Entry, grid, head, notes, nothing_in
from perennia.report.words import crop_axis


@figure_of(Projections, axes="several", nothing="No season is running, so there is none to project.")
def projections(result: Projections) -> Figure:
    """A row a plant, crops and measures apart; over MOST_ROWS plants, in the order of their projected crop."""
    frame = result.table.assign(measure=result.table["measure"].fillna("g"))
    groups = [own for _, own in frame.groupby(["crop", "measure"], sort=True)]
    bare = [bool(own[["to_date", "projected"]].isna().all(axis=None)) for own in groups]
    sizes = [3 if empty else min(len(own), MOST_ROWS) + 3 for own, empty in zip(groups, bare, strict=True)]
    figure, axes = grid(len(groups), 1, height_in=height_of(sum(sizes), 0.3), height_ratios=sizes)
    for own, empty, (ax,) in zip(groups, bare, axes, strict=True):
        row = own.iloc[0]
        if empty:
            nothing_in(ax, f"{row['crop']}: no season here has a crop so far.")
            continue
        if len(own) > MOST_ROWS:
            _ranked(ax, own)
        else:
            _each(ax, own)
        ax.set_title(f"{row['crop']}", parse_math=False)
        ax.set_xlabel(crop_axis(str(row["measure"]), "crop of the season"))
        ax.grid(axis="x")
    head(figure, f"What {counted(len(frame), 'running season')} may come to", _key())
    notes(figure, _words(frame))
    return figure


def _each(ax: Axes, own: pd.DataFrame) -> None:
    rows = sorted(own.to_dict("records"), key=lambda row: (in_order(row["label"]), row["plant"]))
    reach = highest(own, "to_date", "projected")
    # an interval that runs far out would press all else to the left
    edge = min(highest(own, "to_date", "projected", "high"), 2.0 * reach) * 1.05
    ax.set_xlim(0, edge)
    for y, row in enumerate(rows):
        if not pd.isna(row["projected"]):
            high = np.inf if pd.isna(row["high"]) else float(row["high"])
            ax.plot([row["low"], min(high, edge)], [y, y], color=VERMILLION, linewidth=1.2)
            if high > edge:
                ax.plot([edge], [y], marker=">", color=VERMILLION, clip_on=False, markersize=5.0)
            ax.plot([row["projected"]], [y], marker="D", color=VERMILLION, markerfacecolor="none", linestyle="none",
                    gid="projected")  # fmt: skip
        if not pd.isna(row["to_date"]):
            ax.plot([row["to_date"]], [y], marker="o", color=BLUE, linestyle="none", clip_on=False, gid="to date")
    name_rows(ax, [str(row["label"]) + ("" if pd.isna(row["projected"]) else f", n = {row['n']}") for row in rows])


def _ranked(ax: Axes, own: pd.DataFrame) -> None:
    """All plants along one line, too many to be named."""
    rows = thinned(own.sort_values(["projected", "to_date", "plant"], ascending=False, na_position="last"))
    y = np.arange(len(rows)) * (MOST_ROWS / len(rows))
    low, high, middle, done = (numbers(rows, name) for name in ("low", "high", "projected", "to_date"))
    ax.fill_betweenx(y, low, high, **area(VERMILLION))
    ax.plot(middle, y, color=VERMILLION)
    ax.plot(done, y, color=BLUE, linewidth=0.8)
    ax.set_ylim(y[-1] + 1, -1)
    ax.set_yticks([])
    ax.set_ylabel(f"{len(own)} plants by projected crop")
    ax.set_xlim(0, None)


def _key() -> list[Entry]:
    return [
        ("crop to date, recorded", Line2D([], [], color=BLUE, marker="o", linestyle="none")),
        (
            "projected, no record",
            Line2D([], [], color=VERMILLION, marker="D", markerfacecolor="none", linestyle="none"),
        ),
        ("its interval", Line2D([], [], color=VERMILLION, linewidth=1.2)),
        ("goes on", Line2D([], [], color=INK, marker=">", linestyle="none")),
    ]


def _words(frame: pd.DataFrame) -> list[str]:
    said = []
    projected = frame[frame["projected"].notna()]
    if len(projected):
        level = f"{100 * float(projected['level'].iloc[0]):.4g} %"
        said.append(
            f"Intervals are prediction intervals of {level}; n: finished units each rests on. A projection holds where "
            "the season goes on as the finished ones did."
        )
    for reason, count in frame["withheld"].value_counts().sort_index().items():
        said.append(f"{counted(int(count), 'season')} not projected: {reason}.")
    return said
