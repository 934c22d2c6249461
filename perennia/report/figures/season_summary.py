"""When each plant cropped and how much: a line a plant and season, or a line a kind of stock where there are many."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import attrs
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import SeasonTable
from perennia.analysis.name_order import in_order
from perennia.checking.words import counted
from perennia.report.calendar_axis import date_axis, places_of
from perennia.report.columns import Floats, known, numbers
from perennia.report.look import INK, SMALL_PT, Stroke, of_stock
from perennia.report.sheet import Entry, grid, head, notes
from perennia.report.words import SPREAD, crop_axis, dot_of

MOST_ROWS = 40
"""Lines of one crop and measure that are still read one by one."""
_ROW_IN = 0.17
_TIMES = ("first_pick", "t10", "t50", "t90", "last_pick", "peak_on")


@attrs.frozen(eq=False)
class _Line:
    """One line of the figure: its name, how it is drawn, places of its days, its crop with the ends of its spread, and
    whether its season still runs."""

    name: str
    stock: str | None
    season: int
    running: bool
    at: dict[str, float]
    crop: float
    low: float = np.nan
    high: float = np.nan

    @property
    def stroke(self) -> Stroke:
        """How its kind of stock is drawn."""
        return of_stock(self.stock)


def draw_summary(result: SeasonTable) -> Figure:
    """The figure of season_summary."""
    grew = result.table["grew"].fillna(True).astype(bool)
    # of a root that never grew there is nothing to draw, unless it is all that was asked for
    frame = (result.table[grew] if grew.any() else result.table).reset_index(drop=True)
    frame = frame.assign(measure=_measures(frame))
    groups = [
        (str(crop), str(measure), own) for (crop, measure), own in frame.groupby(["crop", "measure"], sort=True)
    ]
    gathered = [len(own) > MOST_ROWS for _, _, own in groups]
    lines = [_gathered(own) if many else _each(own) for (_, _, own), many in zip(groups, gathered, strict=True)]
    heights = [len(rows) + 2.5 for rows in lines]
    figure, axes = grid(
        len(groups), 2, height_in=sum(heights) * _ROW_IN + 0.35 * len(groups), height_ratios=heights,
        width_ratios=[3, 2], sharey="row",
    )  # fmt: skip
    for (crop, measure, own), rows, (left, right) in zip(groups, lines, axes, strict=True):
        _times(left, rows, set(own["season"].astype(int)))
        _crops(right, rows, measure)
        left.set_title(crop, parse_math=False)
    every = [one for rows in lines for one in rows]
    head(figure, f"The crop of {counted(frame['plant'].nunique(), 'plant')}: when, and how much", _key(every))
    notes(figure, [*_not_drawn(len(result.table) - len(frame)), *_words(frame, lines, any(gathered))])
    return figure


def _measures(frame: pd.DataFrame) -> pd.Series[str]:
    """What each line's crop is drawn in: a plant that gave nothing stands among those of its crop that gave something,
    for an axis of its own would have nothing on it."""
    gave = frame["measure"].where(frame["picks"] > 0)
    usual = gave.groupby(frame["crop"]).transform(lambda own: own.mode().iloc[0] if own.notna().any() else pd.NA)
    return gave.fillna(usual).fillna(frame["measure"]).fillna("g")


def _each(frame: pd.DataFrame) -> list[_Line]:
    """A line a plant and season: season by season, overwintered first, plants by name."""
    places = {name: places_of(frame[name], frame["season"]) for name in _TIMES}
    several = frame["season"].nunique() > 1
    rows = []
    for number, row in enumerate(frame.to_dict("records")):
        name = f"{row['label']}  {row['season_name']}" if several else str(row["label"])
        rows.append(_Line(
            name, _stock(row["stock"]), int(row["season"]), row["finished"] is not True,
            {when: float(found[number]) for when, found in places.items()}, _crop(row),
        ))  # fmt: skip
    return sorted(rows, key=lambda one: (one.season, _rank(one.stock), in_order(one.name)))


def _gathered(frame: pd.DataFrame) -> list[_Line]:
    """A line a season and kind of stock: medians, and the middle 80 in 100 of the crops."""
    rows = []
    frame = frame.assign(stock=frame["stock"].fillna("not known"))
    for _, own in frame.groupby(["season", "season_name", "stock"], sort=True):
        season, season_name, stock = (own[name].iloc[0] for name in ("season", "season_name", "stock"))
        sure = known(numbers(own, "count" if own["measure"].iloc[0] == "count" else "total_g"))
        low, middle, high = np.quantile(sure, (0.1, 0.5, 0.9)) if sure.size else (np.nan,) * 3
        at = {name: _median(places_of(own[name], own["season"])) for name in _TIMES}
        running = not bool(own["finished"].fillna(False).all())
        rows.append(_Line(
            f"{season_name} {stock}, n = {len(own)}", str(stock), int(season), running, at, middle, low, high
        ))  # fmt: skip
    return sorted(rows, key=lambda one: (one.season, _rank(one.stock), one.name))


def _stock(value: Any) -> str | None:
    return None if pd.isna(value) else str(value)


def _rank(stock: str | None) -> int:
    return {"overwintered": 0, "fresh": 1}.get(stock or "", 2)


def _crop(row: dict[Any, Any]) -> float:
    value = row["count"] if row["measure"] == "count" else row["total_g"]
    return np.nan if pd.isna(value) else float(value)


def _median(places: Floats) -> float:
    return float(np.nanmedian(places)) if np.isfinite(places).any() else np.nan


def _times(ax: Axes, rows: Sequence[_Line], seasons: set[int]) -> None:
    for y, row in enumerate(rows):
        at, colour = row.at, row.stroke.colour
        ax.plot([at["first_pick"], at["last_pick"]], [y, y], color=colour, linewidth=0.6)
        ax.plot([at["t10"], at["t90"]], [y, y], color=colour, linewidth=2.2, gid="t10 to t90")
        ax.plot([at["t50"]], [y], marker=row.stroke.marker, color=colour, markersize=4.5, linestyle="none", gid="t50")
        ax.plot([at["peak_on"]], [y], marker="|", color=INK, markersize=6.0, linestyle="none")
        if row.running and np.isfinite(at["last_pick"]):
            ax.plot([at["last_pick"]], [y], marker=">", color=colour, markersize=3.5, markerfacecolor="none")
    ax.set_yticks(range(len(rows)), labels=[row.name for row in rows], parse_math=False)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ax.tick_params(axis="y", length=0, labelsize=SMALL_PT - 0.5)
    if not any(np.isfinite(row.at["first_pick"]) for row in rows):
        ax.set_xlim(0, 364)
    date_axis(ax, seasons)


def _crops(ax: Axes, rows: Sequence[_Line], measure: str) -> None:
    for y, row in enumerate(rows):
        colour = row.stroke.colour
        if np.isfinite(row.low):
            ax.plot([row.low, row.high], [y, y], color=colour, linewidth=1.2)
        if np.isfinite(row.crop):
            ax.plot(
                [row.crop], [y], marker=row.stroke.marker, color=colour, markersize=4.0, linestyle="none",
                markerfacecolor="none" if row.running else colour, gid="crop", clip_on=False,
            )  # fmt: skip
    ax.tick_params(axis="y", length=0, labelleft=False)
    ax.grid(axis="x")
    highest = np.nanmax([max(row.crop, row.high if np.isfinite(row.high) else row.crop) for row in rows] + [1.0])
    ax.set_xlim(0, highest * 1.05)
    ax.set_xlabel(crop_axis(measure))


def _key(rows: Sequence[_Line]) -> list[Entry]:
    kinds = {str(row.stock) if row.stock in ("overwintered", "fresh") else "other stock": row.stroke for row in rows}
    entries = [(kind, dot_of(kinds[kind])) for kind in sorted(kinds, key=lambda kind: _rank(kind))]
    marks: list[tuple[str, Entry]] = [
        ("first_pick", ("first to last pick", Line2D([], [], color=INK, linewidth=0.6))),
        ("t10", (f"{SPREAD}, half at the dot", Line2D([], [], color=INK, linewidth=2.2))),
        ("peak_on", ("peak", Line2D([], [], color=INK, marker="|", markersize=6.0, linestyle="none"))),
    ]
    return [
        *entries, *(entry for name, entry in marks if any(np.isfinite(row.at[name]) for row in rows)),
    ]


def _not_drawn(seasons: int) -> list[str]:
    return [f"{counted(seasons, 'season')} in which the plant never grew: no line."] if seasons else []


def _words(frame: pd.DataFrame, lines: Sequence[Sequence[_Line]], gathered: bool) -> list[str]:
    said = []
    if gathered:
        said.append(
            f"A crop with over {MOST_ROWS} plant seasons is drawn by season and stock: medians of days and crops, and "
            "a line over the middle 80 in 100 of the crops."
        )
    if running := int((frame["grew"].fillna(False) & ~frame["finished"].fillna(False)).astype(bool).sum()):
        said.append(f"{counted(running, 'season')} still running (hollow, and open at the end): crops to date.")
    crops = np.where(frame["measure"].eq("count"), numbers(frame, "count"), numbers(frame, "total_g"))
    if missing := int(np.isnan(crops).sum()):
        said.append(f"{counted(missing, 'season')} without a known crop: no dot. A missing crop is not 0.")
    return said
