"""How each plant's crop came in: a small picture a plant, or where there are many, all of a kind together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any, Literal, get_args

import attrs
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import SeasonTable
from perennia.analysis.name_order import in_order
from perennia.checking.words import counted
from perennia.errors import AnalysisError, ArgumentError
from perennia.report.bundles import Curve, bundle, how_bundled
from perennia.report.calendar_axis import date_axis, places_of
from perennia.report.columns import Floats, numbers
from perennia.report.look import FAINT, INK, SMALL_PT, Stroke, of_stock
from perennia.report.sheet import Entry, grid, head, notes
from perennia.report.words import SPREAD, Named, crop_axis, end_names, line_of

Shown = Literal["cumulative", "rate"]
MOST_PLANTS = 24
MOST_PANELS = 24
_BOTH_UP_TO = 4
_PANEL_IN = 1.75
_RATE = {"g": "g a day", "count": "a day"}


@attrs.frozen(eq=False)
class _Season:
    """One plant's season. x: along the axis; crop, rate: in the measure."""

    plant: str
    label: str
    crop_name: str
    season: int
    season_name: str
    stock: str | None
    measure: str
    over: bool
    x: Floats
    crop: Floats
    rate: Floats

    @property
    def stroke(self) -> Stroke:
        """How its kind of stock is drawn."""
        return of_stock(self.stock)

    def values(self, shown: Shown) -> Floats:
        """What is drawn of it."""
        return self.crop if shown == "cumulative" else self.rate


def draw_curves(result: SeasonTable, summary: SeasonTable | None, show: Shown | None) -> Figure:
    """The figure of season_curves. Raises AnalysisError for another show, ArgumentError for another summary."""
    if show is not None and show not in get_args(Shown):
        raise AnalysisError(f"show is {show!r}; choose one of {', '.join(get_args(Shown))}, or leave it out")
    if summary is not None and (not isinstance(summary, SeasonTable) or "t50" not in summary.table):
        raise ArgumentError("summary is no answer of season_summary; give season_summary(garden) of the same plants")
    seasons = _seasons(result.table)
    pictures = _pictures(seasons)
    if len(pictures) > MOST_PLANTS:
        return _together(seasons, show or "cumulative", _axis_words(result.table))
    rows = [show] if show else ["cumulative", "rate"] if len(pictures) <= _BOTH_UP_TO else ["cumulative"]
    return _apart(pictures, [row for row in get_args(Shown) if row in rows], summary, _axis_words(result.table))


def _axis_words(frame: pd.DataFrame) -> str | None:
    """Name of the axis the curves were asked along; None for dates."""
    return "degree-days since growth started, °C d" if "degree_days" in frame else None


def _seasons(frame: pd.DataFrame) -> list[_Season]:
    frame = frame.reset_index(drop=True)
    x = (
        numbers(frame, "degree_days") if "degree_days" in frame else places_of(frame["on"], frame["season"])
    )
    crop, rate = (numbers(frame, name) for name in ("cumulative", "per_day"))
    first_days = frame["on"] - pd.to_timedelta(frame["day_of_season"] - 1, unit="D")
    firsts = frame.assign(begins=first_days).drop_duplicates(["crop", "plant", "season"])
    rows: dict[Any, dict[Any, Any]] = {
        (row["crop"], row["plant"], row["season"]): row for row in firsts.to_dict("records")
    }
    return [
        _Season(
            plant=str(row["plant"]), label=str(row["label"]), crop_name=str(row["crop"]), season=int(row["season"]),
            season_name=_name(int(row["season"]), row["begins"]),
            stock=None if pd.isna(row["stock"]) else str(row["stock"]), measure=str(row["measure"]),
            over=bool(row["finished"]), x=x[place], crop=crop[place], rate=rate[place],
        )
        for key, place in frame.groupby(["crop", "plant", "season"], sort=True).indices.items()
        for row in (rows[key],)
    ]  # fmt: skip


def _name(season: int, first_day: Any) -> str:
    """As the views name a season: 2024, or 2024/25 where it begins within a year."""
    begins = pd.Timestamp(first_day)
    return str(season) if (begins.month, begins.day) == (1, 1) else f"{season}/{(season + 1) % 100:02d}"


def _pictures(seasons: Sequence[_Season]) -> list[list[_Season]]:
    """Seasons by plant and measure, plants that came through a winter first."""
    parted = [
        list(own) for _, own in groupby(
            sorted(seasons, key=lambda one: (one.crop_name, in_order(one.plant), one.measure, one.season)),
            key=lambda one: (one.crop_name, one.plant, one.measure),
        )
    ]  # fmt: skip
    return sorted(parted, key=lambda own: (own[0].crop_name, not any(one.stock == "overwintered" for one in own)))


def _apart(
    pictures: Sequence[Sequence[_Season]], shown: Sequence[Shown], summary: SeasonTable | None, axis: str | None
) -> Figure:
    columns = min(len(pictures), 4 if len(pictures) > 6 else 3 if len(pictures) > 4 else 2)
    rows = -(-len(pictures) // columns)
    figure, axes = grid(
        rows * len(shown), columns, height_in=0.3 + _PANEL_IN * rows * len(shown), sharex="all", sharey=False
    )
    marks = {} if summary is None else _marks(summary.table)
    tops = _tops([one for own in pictures for one in own])
    lives = Counter(own[0].label for own in pictures)
    alike: dict[tuple[str, str, str], list[Axes]] = {}
    for place, own in enumerate(pictures):
        for number, what in enumerate(shown):
            ax = axes[place // columns * len(shown) + number][place % columns]
            scale = (own[0].crop_name, own[0].measure, what)
            _picture(ax, own, what, marks if axis is None else {}, tops[scale])
            alike.setdefault(scale, []).append(ax)
            if number == 0:
                name = own[0].label if lives[own[0].label] == 1 else own[0].plant
                ax.set_title(f"{name}  {own[0].crop_name}", fontsize=SMALL_PT, parse_math=False)
    _same_heights(alike.values())
    for place in range(len(pictures), rows * columns):
        for number in range(len(shown)):
            axes[place // columns * len(shown) + number][place % columns].set_axis_off()
    every = [one for own in pictures for one in own]
    _name_x([ax for row in axes for ax in row], axes[-1], every, axis)
    head(figure, _title(every), _key(every, bool(marks) and axis is None))
    notes(figure, _words(every, marked=bool(marks) and axis is None))
    return figure


def _tops(seasons: Sequence[_Season]) -> dict[tuple[str, str, str], float]:
    """The end of the y axis of every picture of a crop and measure, so that plants can be held against each other."""
    tops: dict[tuple[str, str, str], float] = {}
    for one in seasons:
        for shown in get_args(Shown):
            place = (one.crop_name, one.measure, shown)
            tops[place] = max(tops.get(place, 0.0), 1.06 * float(np.nanmax(one.values(shown), initial=0.0)))
    return {place: top or 1.0 for place, top in tops.items()}


def _same_heights(alike: Iterable[Sequence[Axes]]) -> None:
    """One end of the y axis again where names pushed apart needed room above some of the pictures."""
    for own in alike:
        top = max(ax.get_ylim()[1] for ax in own)
        for ax in own:
            ax.set_ylim(0, top)


def _picture(
    ax: Axes, own: Sequence[_Season], shown: Shown, marks: dict[tuple[str, int], dict[str, float]], top: float
) -> None:
    names, right = [], max(float(one.x[-1]) for one in own)
    for one in own:
        values = one.values(shown)
        ax.plot(one.x, values, color=one.stroke.colour, linestyle=one.stroke.line, gid=shown)
        if shown == "cumulative":
            _mark(ax, one, marks.get((one.plant, one.season), {}))
        if not one.over:
            ax.plot(one.x[-1:], values[-1:], marker=">", color=one.stroke.colour, markerfacecolor="none", clip_on=False)
        if shown == "cumulative":
            running = "" if one.over else ", running"
            names.append(Named(right, float(values[-1]), f"{one.season_name}{running}", one.stroke.colour))
    ax.set_ylim(0, top)
    ax.set_ylabel(_y_words(own[0].measure, shown), fontsize=SMALL_PT)
    end_names(ax, names, _PANEL_IN * 0.75, SMALL_PT - 1)


def _marks(frame: pd.DataFrame) -> dict[tuple[str, int], dict[str, float]]:
    """Places of t10, t50, t90 and peak by plant and season."""
    places = {name: places_of(frame[name], frame["season"]) for name in ("t10", "t50", "t90", "peak_on")}
    return {
        (str(plant), int(season)): {name: float(at[row]) for name, at in places.items() if np.isfinite(at[row])}
        for row, (plant, season) in enumerate(zip(frame["plant"], frame["season"], strict=True))
    }


def _mark(ax: Axes, one: _Season, marks: dict[str, float]) -> None:
    """The stretch in which the middle of the crop came, its half, and the peak, on a curve."""
    colour = one.stroke.colour
    if "t10" in marks and "t90" in marks:
        inside = (one.x > marks["t10"]) & (one.x < marks["t90"])
        x = np.concatenate([[marks["t10"]], one.x[inside], [marks["t90"]]])
        ax.plot(x, np.interp(x, one.x, one.crop), **_stretch(colour))
    for name, marker, size in (("t50", one.stroke.marker, 4.0), ("peak_on", "*", 8.0)):
        if name in marks:
            y = np.interp(marks[name], one.x, one.crop)
            ax.plot([marks[name]], [y], marker=marker, markersize=size, color=colour, linestyle="none", gid=name)


def _y_words(measure: str, shown: Shown) -> str:
    return crop_axis(measure) if shown == "cumulative" else _RATE[measure]


def _stretch(colour: str) -> dict[str, Any]:
    """A pale band along a curve with a stroke at either end, for a pale band alone is lost on the page."""
    ends = {"marker": "|", "markersize": 7.0, "markeredgecolor": colour, "markevery": [0, -1]}
    return {"color": (colour, FAINT), "linewidth": 4.0, "solid_capstyle": "butt", **ends}


def _key(seasons: Sequence[_Season], marked: bool) -> list[Entry]:
    named: dict[str, Stroke] = {}
    for one in sorted(seasons, key=lambda one: one.stock or "~"):
        kind = one.stock if one.stock in ("overwintered", "fresh") else "other stock"
        named.setdefault(str(kind), one.stroke)
    entries = [(kind, line_of(stroke)) for kind, stroke in sorted(named.items(), key=lambda item: item[0] == "fresh")]
    if marked:
        entries += [
            (SPREAD, Line2D([], [], **_stretch(INK))),
            ("half of it in", Line2D([], [], color=INK, marker="o", markersize=4.0, linestyle="none")),
            ("peak", Line2D([], [], color=INK, marker="*", markersize=8.0, linestyle="none")),
        ]
    if not all(one.over for one in seasons):
        open_end = Line2D([], [], color=INK, marker=">", markerfacecolor="none", linestyle="none")
        entries.append(("still running", open_end))
    return entries


def _title(seasons: Sequence[_Season]) -> str:
    return f"How the crop of {counted(len({one.plant for one in seasons}), 'plant')} came in"


def _words(seasons: Sequence[_Season], *, marked: bool) -> list[str]:
    said = []
    if running := sum(not one.over for one in seasons):
        said.append(f"{counted(running, 'season')} still running: open at its end, and its crop can rise.")
    if marked:
        said.append(
            "A share of the crop is in by the end of the day it is marked at. Peak: middle of the heaviest week."
        )
    return said


def _name_x(every: Sequence[Axes], lowest: Sequence[Axes], seasons: Sequence[_Season], axis: str | None) -> None:
    for ax in every:
        ax.set_xlim(*_span(seasons))
        if axis is None:
            date_axis(ax, {one.season for one in seasons}, named=False, most=4)
    for ax in every:
        if not ax.axison:
            continue
        if ax in lowest:
            ax.set_xlabel(axis or "date")


def _span(seasons: Sequence[_Season]) -> tuple[float, float]:
    """From the first point to the last, with room for names at the ends."""
    low, high = min(one.x[0] for one in seasons), max(one.x[-1] for one in seasons)
    width = max(high - low, 10.0)
    return low - 0.02 * width, high + 0.35 * width


def _together(seasons: Sequence[_Season], shown: Shown, axis: str | None) -> Figure:
    """All plants of a crop, season and measure in one picture, kinds of stock apart."""
    panels = [
        list(own) for _, own in groupby(
            sorted(seasons, key=lambda one: (one.crop_name, one.measure, one.season)),
            key=lambda one: (one.crop_name, one.measure, one.season),
        )
    ]  # fmt: skip
    drawn = panels[:MOST_PANELS]
    columns = min(len(drawn), 3)
    rows = -(-len(drawn) // columns)
    figure, axes = grid(rows, columns, height_in=0.3 + 1.9 * rows)
    most, tops = 0, _tops(seasons)
    for ax, own in zip([ax for row in axes for ax in row], drawn, strict=False):
        most = max(most, _bundles(ax, own, shown, tops[own[0].crop_name, own[0].measure, shown]))
        ax.set_xlim(*_span(own))
        if axis is None:
            date_axis(ax, {own[0].season}, named=False, most=4)
        ax.set_title(f"{own[0].crop_name}, {own[0].season_name}", fontsize=SMALL_PT, parse_math=False)
        ax.set_ylabel(_y_words(own[0].measure, shown), fontsize=SMALL_PT)
    for ax in [ax for row in axes for ax in row][len(drawn):]:
        ax.set_axis_off()
    for ax in axes[-1]:
        ax.set_xlabel(axis or "date")
    head(figure, _title(seasons), [entry for entry in _key(seasons, False) if entry[0] != "still running"])
    said = [f"Over {MOST_PLANTS} plants, so all of a kind are drawn together. {how_bundled(most)}"]
    if not all(one.over for one in seasons):
        said.append("Where a season still runs, the median ends with the first such season's last entry.")
    if len(panels) > len(drawn):
        said.append(f"{len(panels) - len(drawn)} more of crop and season are not drawn; ask for fewer.")
    notes(figure, said)
    return figure


def _bundles(ax: Axes, own: Sequence[_Season], shown: Shown, top: float) -> int:
    """Draws each kind of stock; the most curves any has."""
    names, sizes = [], []
    for stock in sorted({one.stock for one in own}, key=str):
        alike = [one for one in own if one.stock == stock]
        curves = [Curve(one.x, one.values(shown), one.over) for one in alike]
        x, y = bundle(ax, curves, of_stock(stock), level_after=shown == "cumulative")
        running = ", running" if any(not one.over for one in alike) else ""
        names.append(Named(x, y, f"{stock or 'not known'}\nn = {len(alike)}{running}", of_stock(stock).colour))
        sizes.append(len(curves))
    ax.set_ylim(0, top)
    if shown == "cumulative":
        end_names(ax, names, 0.7, SMALL_PT - 1)
    return max(sizes)
