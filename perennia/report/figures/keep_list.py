"""Which plants are worth a winter place: the crop each is expected to bear, in order, against fresh stock."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import KeepList
from perennia.analysis.decisions.keeping.keep_rows import EVEN, NO, VETO, YES
from perennia.analysis.measures import MEASURES
from perennia.analysis.name_order import ordered
from perennia.checking.words import counted
from perennia.report.columns import highest, numbers
from perennia.report.drawing import figure_of
from perennia.report.look import BEHIND, BLUE, FAINT, INK, PURPLE, SMALL_PT, VERMILLION, area
from perennia.report.rows import MOST_ROWS, height_of, name_rows, thinned
from perennia.report.sheet import Entry, grid, head, notes
from perennia.report.words import first_cautions, shortened

_MARKS: dict[str, dict[str, Any]] = {
    YES: {"marker": "o", "color": BLUE}, EVEN: {"marker": "o", "color": BLUE, "markerfacecolor": "none"},
    NO: {"marker": "x", "color": VERMILLION}, VETO: {"marker": "P", "color": PURPLE},
}  # fmt: skip
_SAID = {YES: "keep", EVEN: "nothing decides", NO: "not worth a place", VETO: "not to be kept"}
_CAUTIONS = 3


@figure_of(KeepList, axes="several", nothing="No plant on record lives in that season.")
def keep_list(result: KeepList) -> Figure:
    """A row a plant in order of rank, crops apart; over MOST_ROWS of a crop as one line in order of rank."""
    groups = [own for _, own in result.table.groupby(["crop", "measure"], sort=True)]
    sizes = [min(len(own), MOST_ROWS) + 3 for own in groups]
    figure, axes = grid(len(groups), 1, height_in=height_of(sum(sizes), 0.2), height_ratios=sizes)
    for own, (ax,) in zip(groups, axes, strict=True):
        rows = ordered(own, ["rank", "plant"])
        if len(rows) > MOST_ROWS:
            _line(ax, rows)
        else:
            _each(ax, rows)
        _against_fresh(ax, rows)
        measure = MEASURES[str(rows["measure"].iloc[0])]
        ax.set_xlabel(f"expected crop next season, {measure.unit}")
        ax.set_title(str(rows["crop"].iloc[0]), parse_math=False)
        ax.grid(axis="x")
    head(figure, f"Worth a winter place? {counted(len(result.table), 'plant')} in order of rank", _key(result.table))
    notes(figure, [*_words(result), *first_cautions(result, _CAUTIONS)])
    return figure


def _each(ax: Axes, rows: pd.DataFrame) -> None:
    names = []
    for y, row in enumerate(rows.to_dict("records")):
        if not pd.isna(row["low"]):
            ax.plot([row["low"], row["high"]], [y, y], color=INK, linewidth=0.8, alpha=BEHIND, gid="interval")
        if not pd.isna(row["expected_if_alive"]):
            ax.plot([row["expected_if_alive"]], [y], marker="|", markersize=7.0, color=INK, linestyle="none")
        expected = row["expected"] if not pd.isna(row["expected"]) else row["expected_if_alive"]
        if not pd.isna(expected):
            ax.plot([expected], [y], linestyle="none", gid="expected", clip_on=False, **_MARKS[str(row["keep"])])
        ax.annotate(
            _reason(row), (1.01, y), xycoords=("axes fraction", "data"), va="center", fontsize=SMALL_PT - 0.5,
            annotation_clip=False, parse_math=False,
        )  # fmt: skip
        rank = "–" if pd.isna(row["rank"]) else str(row["rank"])
        names.append(f"{rank}  {row['label']}")
    name_rows(ax, names)
    ax.set_xlim(0, highest(rows, "high", "expected", "expected_if_alive", "fresh_expected") * 1.03)


def _reason(row: Any) -> str:
    """Why, in a few words; the whole is in the column reason."""
    said = [_SAID[str(row["keep"])], "no season" if not row["seasons"] else counted(int(row["seasons"]), "season")]
    said += [str(row[name]) for name in ("condition", "look_at") if not pd.isna(row[name])]
    return shortened(", ".join(dict.fromkeys(said)), 48)


def _line(ax: Axes, rows: pd.DataFrame) -> None:
    """All plants of a crop, too many to be named, from the best down."""
    shown = thinned(rows)
    y = np.arange(len(shown)) * (MOST_ROWS / len(shown))
    low, high, expected, alive = (numbers(shown, name) for name in ("low", "high", "expected", "expected_if_alive"))
    ax.fill_betweenx(y, low, high, gid="interval", **area(INK, FAINT / 2))
    ax.plot(np.where(np.isnan(expected), alive, expected), y, color=BLUE, gid="expected")
    ax.set_ylim(y[-1] + 1, -1)
    ax.set_yticks([])
    counts = rows["keep"].value_counts()
    told = ", ".join(f"{counts[keep]} {words}" for keep, words in _SAID.items() if counts.get(keep, 0))
    ax.set_ylabel(f"{len(rows)} plants by rank")
    ax.text(0.99, 0.02, told, transform=ax.transAxes, ha="right", fontsize=SMALL_PT, in_layout=False)
    ax.set_xlim(0, highest(rows, "high", "expected", "expected_if_alive", "fresh_expected") * 1.03)


def _against_fresh(ax: Axes, rows: pd.DataFrame) -> None:
    fresh = rows["fresh_expected"].dropna()
    if len(fresh):
        ax.axvline(float(fresh.iloc[0]), color=VERMILLION, linewidth=1.0, linestyle=(0, (5, 2)), gid="fresh")


def _key(table: pd.DataFrame) -> list[Entry]:
    there = set(table["keep"])
    entries: list[Entry] = [
        (_SAID[keep], Line2D([], [], linestyle="none", **marks)) for keep, marks in _MARKS.items() if keep in there
    ]
    return [
        *entries,
        ("crop if it lives, with its interval", Line2D([], [], color=INK, linewidth=0.8, alpha=BEHIND,
                                                                  marker="|", markersize=7.0)),
        ("fresh stock", Line2D([], [], color=VERMILLION, linewidth=1.0, linestyle=(0, (5, 2)))),
    ]  # fmt: skip


def _words(result: KeepList) -> list[str]:
    table = result.table
    said = []
    if table["expected"].notna().any():
        said.append("Marks: the expected crop, the chance to come through the winter reckoned in where it is known.")
    if table["low"].notna().any() and not table["holds_season"].fillna(True).all():
        said.append("Some intervals are too narrow: with under three seasons that are over, they leave out how seasons "
                    "differ.")  # fmt: skip
    if bare := int(table["expected_if_alive"].isna().sum()):
        said.append(f"{counted(bare, 'plant')} without an expected crop: no mark.")
    if table.groupby(["crop", "measure"]).size().max() > MOST_ROWS:
        said.append(f"Over {MOST_ROWS} plants of a crop are drawn as one line; the table names them.")
    return said
