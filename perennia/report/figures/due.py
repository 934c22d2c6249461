"""What is due on a day: each matter from the day it was due to its last sensible day, with today across them all."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import Due
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted
from perennia.report.days import day_axis, named, number_of
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, FAINT, INK, SMALL_PT, VERMILLION
from perennia.report.rows import name_rows
from perennia.report.sheet import head, notes, one_axes
from perennia.report.words import shortened

MOST = 40
"""Matters drawn; the others are counted in words."""
AROUND_DAYS = 60
"""Days to either side of today that are drawn; a matter that reaches further ends in an arrow."""
_ROW_IN, _AROUND_IN = 0.22, 1.0
_LETTERS = 34
_STROKES: dict[str, dict[str, Any]] = {
    "overdue": {"color": VERMILLION, "linestyle": "-", "marker": "X"},
    "now": {"color": BLUE, "linestyle": "-", "marker": "o"},
    "ahead": {"color": INK, "linestyle": "--", "marker": "o", "markerfacecolor": "none"},
}  # fmt: skip


@figure_of(Due, axes="one", nothing="Nothing asks for attention.")
def what_is_due(result: Due, ax: Axes | None) -> Figure:
    """A row a matter, the most urgent on top: a line from the day it was due to its last sensible day, marked there; a
    mark alone on today where neither is known."""
    rows = rows_of(result.table.head(MOST))
    figure, axes = one_axes(ax, _AROUND_IN + _ROW_IN * len(rows))
    today = number_of(result.today)
    first, last = today - AROUND_DAYS, today + AROUND_DAYS
    axes.axvline(today, color=INK, linewidth=1.0)
    axes.text(today, -0.9, f"today, {named(result.today)}", ha="center", va="bottom", fontsize=SMALL_PT)
    for place, row in enumerate(rows):
        _matter(axes, place, row, today, (first, last))
    name_rows(axes, [_name(row) for row in rows])
    day_axis(axes, first, last)
    axes.set_xlabel("date")
    keyed = [(name, Line2D([], [], markersize=5, **stroke)) for name, stroke in _STROKES.items()]
    head(figure, f"What is due on {named(result.today)} {result.today.year}", keyed, ax)
    left = len(result.table) - len(rows)
    said = ["Each line runs from the day it was due to the last day that makes sense, where the books tell them."]
    if left:
        said.append(f"{counted(left, 'matter')} less urgent not drawn.")
    notes(figure, said, ax)
    return figure


def _matter(axes: Axes, place: int, row: Row, today: float, within: tuple[float, float]) -> None:
    """One matter, cut at the ends of what is drawn."""
    since, by = (_number(row[name]) for name in ("since", "by"))
    stroke = _STROKES[str(row["standing"])]
    start, stop = since if since is not None else by, by if by is not None else since
    if start is None or stop is None:
        axes.plot([today], [place], gid="matter", **{**stroke, "linestyle": "none", "markersize": 5})
        return
    ends = [min(max(end, within[0]), within[1]) for end in (min(start, stop), max(start, stop))]
    line = {name: value for name, value in stroke.items() if not name.startswith("marker")}
    axes.plot(ends, [place, place], linewidth=1.6, solid_capstyle="butt", **line)
    beyond = stop < within[0] or stop > within[1]
    mark = {"marker": "<" if stop < today else ">"} if beyond else {}
    axes.plot([ends[1] if stop >= start else ends[0]], [place], gid="matter",
              **{**stroke, "linestyle": "none", "markersize": 5, **mark})  # fmt: skip
    axes.axhline(place + 0.5, color=INK, alpha=FAINT, linewidth=0.3, gid="rule")


def _number(day: Any) -> float | None:
    return None if day is None or day != day else number_of(day.date() if hasattr(day, "date") else day)


def _name(row: Row) -> str:
    """The kind of matter and where it is."""
    place = next((row[name] for name in ("place", "labels", "crop") if isinstance(row[name], str)), "")
    return shortened(f"{row['kind']}, {place}" if place else str(row["kind"]), _LETTERS)
