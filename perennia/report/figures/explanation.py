"""Candidates for a shortfall, the strongest first: what the records, a contrast and the flowers say of each."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import Explanation
from perennia.checking.words import counted
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, FAINT, INK, SMALL_PT
from perennia.report.rows import name_rows
from perennia.report.sheet import head, notes, one_axes

COLUMNS = {
    "recorded": "recorded\nat work", "contrast": "fewer set\nwhere it was", "form": "its form in\nthe flowers",
}  # fmt: skip
"""Columns of the table that are drawn as marks, with the words over them."""
FOR, PARTLY, AGAINST, UNKNOWN = "speaks for it", "in part, or may be", "speaks against it", "not known"
MARK_OF = {
    "seen": FOR, "in part": PARTLY, "not seen": AGAINST, "not recorded": UNKNOWN,
    "fewer set": FOR, "no fewer set": AGAINST, "no contrast": UNKNOWN,
    "there": FOR, "may be": PARTLY, "not there": AGAINST, "cannot be told": UNKNOWN,
}  # fmt: skip
"""What each word of these columns is drawn as."""
_SIZE = 8.0
MARKS: dict[str, dict[str, Any]] = {
    FOR: {"marker": "o", "markersize": _SIZE, "markerfacecolor": BLUE},
    PARTLY: {"marker": "o", "markersize": _SIZE, "fillstyle": "left", "markerfacecolor": BLUE,
             "markerfacecoloralt": "none"},
    AGAINST: {"marker": "o", "markersize": _SIZE, "markerfacecolor": "none"},
    UNKNOWN: {"marker": "_", "markersize": _SIZE},
}  # fmt: skip
"""Full, half full, empty and no circle at all: told apart without colour."""
_STRENGTH_AT = 3.0
_ROW_IN, _AROUND_IN = 0.3, 0.6
_ONE_SERIES = "One bed's weather, visitors and care are one series: what came in the same days looks alike."


@figure_of(Explanation, axes="one", nothing="No candidate was weighed.")
def explanation(result: Explanation, ax: Axes | None) -> Figure:
    """A row a candidate: a mark with its word for what is recorded, for the contrast and for the form, then the
    strength in words; under it what can be named."""
    rows = result.table.to_dict("records")
    figure, axes = one_axes(ax, _AROUND_IN + _ROW_IN * len(rows))
    for place, row in enumerate(rows):
        axes.axhline(place + 0.5, color=INK, alpha=FAINT, linewidth=0.4, gid="rule")
        for column, name in enumerate(COLUMNS):
            _mark(axes, column, place, str(row[name]))
        axes.text(_STRENGTH_AT, place, str(row["strength"]), va="center", fontsize=SMALL_PT,
                  fontweight="bold" if row["strength"] == "strong" else "normal", parse_math=False)  # fmt: skip
    name_rows(axes, [str(row["candidate"]) for row in rows])
    axes.set_xlim(-0.15, 3.7)
    axes.set_xticks([*range(len(COLUMNS)), _STRENGTH_AT], labels=[*COLUMNS.values(), "strength"], ha="left",
                    fontsize=SMALL_PT)  # fmt: skip
    axes.xaxis.tick_top()
    axes.tick_params(axis="x", length=0)
    axes.spines[:].set_visible(False)
    plants = counted(result.n, "plant")
    head(figure, f"{result.crop}, {result.season_name}: what may have kept flowers from setting (n = {plants})",
         [(name, Line2D([], [], **_drawn(name))) for name in MARKS], ax)  # fmt: skip
    notes(figure, [_named(result), *([_ONE_SERIES] if result.cautions else [])], ax)
    return figure


def _mark(ax: Axes, column: int, place: int, word: str) -> None:
    ax.plot([column], [place], gid="mark", **_drawn(MARK_OF[word]))
    ax.text(column + 0.1, place, word, va="center", fontsize=SMALL_PT - 0.8, parse_math=False)


def _drawn(name: str) -> dict[str, Any]:
    return {"color": BLUE, "linestyle": "none", "markeredgewidth": 1.1, **MARKS[name]}


def _named(result: Explanation) -> str:
    if result.cause:
        return f"The records speak for {result.cause}, and against every other candidate."
    if not result.left:
        return "The records speak against every candidate."
    return f"No single cause can be named. Not ruled out: {', '.join(result.left)}."
