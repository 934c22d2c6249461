"""Lives of plants as bars over the years, with the days they were picked; of many, how many were in which state."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from perennia.analysis import PlantLives
from perennia.checking.words import counted
from perennia.lifecycle import STATE_WORDS
from perennia.report.calendar_axis import ordinals_of, year_axis
from perennia.report.columns import Floats
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, FAINT, GREEN, INK, OCHRE, PURPLE, SKY, area
from perennia.report.rows import height_of, name_rows
from perennia.report.sheet import Entry, head, notes, one_axes

MOST_PLANTS = 60
_POINTS = 160
_FILLED = 0.5
"""Opacity within the edge of a bar."""
# colour, height of the bar, hatch: heights and hatches tell states apart in black and white
_DRAWN: dict[str, tuple[str, float, str]] = {
    "sown": (GREEN, 0.3, ""), "growing": (GREEN, 0.75, ""), "dormant": (OCHRE, 0.18, ""),
    "lifted": (PURPLE, 0.3, "xx"), "stored": (BLUE, 0.45, "//"), "sheltered": (SKY, 0.45, ".."),
}  # fmt: skip
_ENDS = {"died": "x", "removed": "|", "divided": "d"}


@figure_of(PlantLives, axes="one", nothing="No plant is on record for what was asked.")
def plant_lives(result: PlantLives, ax: Axes | None) -> Figure:
    """A row a plant, up to MOST_PLANTS; of more the number of plants in each state through the years."""
    table = result.table
    start, stop = ordinals_of(table["from"]), ordinals_of(table["to"])
    seen_to = np.nan if result.seen_to is None else float(result.seen_to.toordinal())
    latest = np.nanmax(np.concatenate([start, stop, [seen_to]]))
    stop = np.where(np.isnan(stop), np.maximum(latest, start), stop)
    plants = table["plant"].drop_duplicates().tolist()
    several = len(plants) > MOST_PLANTS
    figure, drawn = one_axes(ax, 3.4 if several else height_of(len(plants)))
    if several:
        _counts(drawn, table, start, stop)
    else:
        _bars(drawn, table, start, stop)
        _pickings(drawn, result.pickings, plants)
        name_rows(drawn, _names(table))
    year_axis(drawn, float(start.min()) - 5, float(latest) + 15)
    head(figure, f"Lives of {counted(len(plants), 'plant')}", _key(table, several), ax)
    notes(figure, _words(table, several), ax)
    return figure


def _names(table: pd.DataFrame) -> list[str]:
    """Labels, and plants where a label had several."""
    rows = table.drop_duplicates("plant")
    again = rows["label"].duplicated(keep=False)
    return [
        str(plant if twice else label) for plant, label, twice in zip(rows["plant"], rows["label"], again, strict=True)
    ]


def _bars(ax: Axes, table: pd.DataFrame, start: Floats, stop: Floats) -> None:
    rows = pd.factorize(table["plant"])[0]
    inferred = table["inferred"].to_numpy(dtype=bool, na_value=False)
    for state, (colour, high, hatch) in _DRAWN.items():
        for unsure in (False, True):
            own = table["state"].eq(state).to_numpy(dtype=bool) & (inferred == unsure)
            if own.any():
                ax.barh(
                    rows[own], stop[own] - start[own], left=start[own], height=high, hatch=hatch or None,
                    gid=f"{state} inferred" if unsure else state, **_fill(state, colour, unsure=unsure),
                )  # fmt: skip
    earliest = ordinals_of(table["earliest"])
    for how, marker in _ENDS.items():
        own = table["ended_how"].eq(how).to_numpy(dtype=bool, na_value=False)
        if own.any():
            ax.hlines(rows[own], earliest[own], start[own], color=INK, linewidth=0.8, gid=f"{how} between")
            ax.plot(start[own], rows[own], marker=marker, color=INK, linestyle="none", markersize=4.5, gid=how)


def _fill(state: str, colour: str, *, unsure: bool = False) -> dict[str, Any]:
    """Pale enough for the days picked to be read on it, within an edge, which has the colour of the hatch; of what was
    not written down a dotted one. A sowing has the colour of growth, paler."""
    if unsure:
        return {**area(colour), "edgecolor": INK, "linewidth": 0.8, "linestyle": ":"}
    look = area(colour, FAINT / 2 if state == "sown" else _FILLED)
    return look | {"edgecolor": INK} if _DRAWN[state][2] else look


def _pickings(ax: Axes, pickings: pd.DataFrame, plants: Sequence[str]) -> None:
    """A stroke a day, all in one line with breaks, for there are thousands."""
    rows = pickings["plant"].map({plant: row for row, plant in enumerate(plants)})
    there = rows.notna().to_numpy(dtype=bool)
    if not there.any():
        return
    days = ordinals_of(pickings["on"])[there]
    y = rows[there].to_numpy(dtype=float)
    x = np.column_stack([days, days, np.full(days.size, np.nan)]).ravel()
    ends = np.column_stack([y - 0.28, y + 0.28, np.full(days.size, np.nan)]).ravel()
    ax.plot(x, ends, color=INK, linewidth=0.4, gid="pickings")


def _counts(ax: Axes, table: pd.DataFrame, start: Floats, stop: Floats) -> None:
    """Plants in each state, one on the other, through the years."""
    grid = np.linspace(start.min(), stop.max(), _POINTS)
    below = np.zeros(grid.size)
    for state, (colour, _, hatch) in _DRAWN.items():
        own = table["state"].eq(state).to_numpy(dtype=bool)
        if not own.any():
            continue
        begun = np.searchsorted(np.sort(start[own]), grid, side="right")
        over = np.searchsorted(np.sort(stop[own]), grid, side="right")
        above = below + begun - over
        turns = _turns(below, above)
        ax.fill_between(
            grid[turns], below[turns], above[turns], hatch=hatch or None, step="post", gid=state,
            **_fill(state, colour),
        )  # fmt: skip
        below = above
    ax.set_ylim(0, None)
    ax.set_ylabel("plants alive")


def _turns(*heights: Floats) -> npt.NDArray[np.intp]:
    """The places where any height is another than before, and the last: steps between them are drawn for nothing."""
    moved = np.any([np.diff(one) != 0 for one in heights], axis=0)
    return np.flatnonzero(np.r_[True, moved[:-1], True])


def _key(table: pd.DataFrame, several: bool) -> list[Entry]:
    there = set(table["state"])
    entries: list[Entry] = [
        (STATE_WORDS[state], Patch(hatch=hatch or None, **_fill(state, colour)))
        for state, (colour, _, hatch) in _DRAWN.items() if state in there
    ]  # fmt: skip
    if several:
        return entries
    if table["inferred"].any():
        entries.append(("not written down", Patch(facecolor="none", edgecolor=INK, linestyle=":", linewidth=0.8)))
    marks: dict[str, Any] = {"picked": {"marker": "|", "markersize": 6.0, "markeredgewidth": 0.5}}
    marks |= {how: {"marker": marker} for how, marker in _ENDS.items() if table["ended_how"].eq(how).any()}
    entries += [(name, Line2D([], [], color=INK, linestyle="none", **given)) for name, given in marks.items()]
    return entries


def _words(table: pd.DataFrame, several: bool) -> list[str]:
    said = []
    if several:
        said.append(f"Over {MOST_PLANTS} plants, so they are counted by state; a few labels can be asked for by name.")
    elif table["inferred"].any():
        said.append(
            "Pale with a dotted edge: a change of state within it was not written down, or only a later entry shows it."
        )
    if not several and (table["ended_how"].notna() & (table["earliest"] < table["from"])).any():
        said.append("A line that leads to an end: the day is not known, and lies somewhere on it.")
    if table["to"].isna().any():
        said.append("A life that goes on is drawn to the latest day on record.")
    return said
