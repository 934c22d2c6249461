"""When a site had its frosts: each year's last of spring and first of autumn, and the days by share of years."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator

from perennia.analysis import FrostDates
from perennia.analysis.causes.warmth.frost_years import day_number, month_day
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted
from perennia.report.days import named
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, INK, SMALL_PT, VERMILLION, Stroke
from perennia.report.sheet import grid, notes, nothing_in, title

_HALVES = {
    "spring": ("last frost of spring", Stroke(BLUE, "-", "o", "")),
    "autumn": ("first frost of autumn", Stroke(VERMILLION, "-", "^", "")),
}  # fmt: skip
_YEAR_IN, _LEAST_IN, _MOST_IN = 0.13, 1.6, 9.0
_MARGIN_DAYS = 6


@figure_of(
    FrostDates, axes="several", is_empty=lambda result: result.years.empty,
    nothing="No year with a lowest temperature is on record.",
)  # fmt: skip
def frost(result: FrostDates) -> Figure:
    """Spring beside autumn: the years as marks, those left out of the reckoning hollow, over the days by which a frost
    had come in a share of the years, with their intervals."""
    seasons = sorted(result.years["season"].unique())
    years_in = min(max(_YEAR_IN * len(seasons), _LEAST_IN), _MOST_IN)
    figure, (years, shares) = grid(2, 2, years_in + 2.4, sharex="col", height_ratios=[years_in, 1.1])
    for place, half in enumerate(_HALVES):
        _draw_half(years[place], shares[place], result, half)
    for ax in years:
        # room above the years for the day to plant out from
        ax.set_ylim(seasons[0] - 0.8, seasons[-1] + max(0.2 * min(len(seasons), 12), 1.6))
        ax.yaxis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1, nbins=8))
    years[0].set_ylabel("year it begins in" if _south(result) else "year")
    title(figure, "Frost, year by year, and the days by share of years")
    notes(figure, _said(result))
    return figure


def _draw_half(years: Axes, shares: Axes, result: FrostDates, half: str) -> None:
    name, stroke = _HALVES[half]
    own = [row for row in rows_of(result.years) if row["half"] == half]
    rows = [row for row in rows_of(result.table) if row["half"] == half]
    south = _south(result)
    dated = [(day_number(row["frost_on"], south), row) for row in own if row["frost_on"] is not None]
    for day, row in dated:
        years.plot([day], [row["season"]], gid="year", marker=stroke.marker, linestyle="none", color=stroke.colour,
                   markersize=4, markerfacecolor=stroke.colour if row["counted"] else "none")  # fmt: skip
    without = [row["season"] for row in own if row["frost_on"] is None and row["counted"]]
    for season in without:
        years.annotate("none", (0.0 if half == "spring" else 1.0, season), (3 if half == "spring" else -3, 0),
                       xycoords=years.get_yaxis_transform(), textcoords="offset points",
                       ha="left" if half == "spring" else "right", va="center", fontsize=6)  # fmt: skip
    years.set_title(f"{name}, {counted(sum(row['counted'] for row in own), 'year')} that count", pad=8)
    ends = [_number(row[side], south) for row in rows for side in ("low", "day", "high") if row[side] is not None]
    if not dated and not ends:
        years.set_xticks([])
        nothing_in(shares, "No such frost is on record.")
        return
    everything = [day for day, _ in dated] + ends
    first, last = min(everything) - _MARGIN_DAYS, max(everything) + _MARGIN_DAYS
    _day_ticks(shares, first, last, south)
    years.tick_params(labelbottom=False)
    _draw_shares(shares, rows, stroke, south)
    _draw_chosen(years, result, half, south)


def _draw_shares(ax: Axes, rows: Sequence[Row], stroke: Stroke, south: bool) -> None:
    """The days by share of years, each with its interval, open where the years are too few to bound it."""
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.set_yticks(range(len(rows)), labels=[f"{row['share']:.0%}" for row in rows])
    ax.set_ylabel("by then, of years")
    ax.tick_params(axis="y", length=0)
    if all(row["day"] is None for row in rows):
        ax.text(0.5, 0.5, "too few years for a day by share of years", transform=ax.transAxes, ha="center",
                va="center", fontsize=SMALL_PT)  # fmt: skip
        return
    left, right = ax.get_xlim()
    for place, row in enumerate(rows):
        low, high = (None if row[side] is None else _number(row[side], south) for side in ("low", "high"))
        ax.plot([left if low is None else low, right if high is None else high], [place, place], color=stroke.colour,
                linewidth=1.2)  # fmt: skip
        for bound, end, sign in ((low, left, "<"), (high, right, ">")):
            if bound is None:
                ax.plot([end], [place], sign, color=stroke.colour, markersize=5, clip_on=False)
        if row["day"] is None:
            ax.annotate("falls among years without", ((left + right) / 2, place), (0, 4), textcoords="offset points",
                        ha="center", fontsize=6)  # fmt: skip
            continue
        day = _number(row["day"], south)
        ax.plot([day], [place], stroke.marker, color=stroke.colour, markersize=6)
        ax.annotate(_named(day, south), (day, place), (0, 5), textcoords="offset points", ha="center", fontsize=6.5)


def _draw_chosen(ax: Axes, result: FrostDates, half: str, south: bool) -> None:
    """The day to plant out from, or to lift by, at the chance chosen."""
    chosen = result.plant_out_from if half == "spring" else result.lift_by
    if chosen is None:
        return
    day = _number(chosen, south)
    what = "plant out from" if half == "spring" else "lift by"
    ax.axvline(day, color=INK, linewidth=0.8, linestyle=(0, (5, 2)))
    left, right = ax.get_xlim()
    late = day > (left + right) / 2
    ax.annotate(f"{what} {_named(day, south)}:\nfrost {'later' if half == 'spring' else 'sooner'} in "
                f"{result.risk:.0%} of years", (day, 1.0), (-3 if late else 3, -1), xycoords=("data", "axes fraction"),
                textcoords="offset points", ha="right" if late else "left", va="top", fontsize=6.5)  # fmt: skip


def _day_ticks(ax: Axes, first: float, last: float, south: bool) -> None:
    ax.set_xlim(first, last)
    wanted = (1,) if last - first > 100 else (1, 15) if last - first > 35 else (1, 6, 11, 16, 21, 26)
    days = [day for day in range(int(first), int(last) + 2) if month_day(day, south).day in wanted]
    ax.xaxis.set_major_locator(FixedLocator(days))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: _named(value, south)))


def _named(day: float, south: bool) -> str:
    return named(month_day(day, south))


def _number(month_and_day: str, south: bool) -> int:
    return day_number(pd.Timestamp(f"2001-{month_and_day}"), south)


def _south(result: FrostDates) -> bool:
    """Whether the frost year begins on 1 July: its spring frosts then lie in the second half of the calendar's."""
    seen = [(row["half"], row["frost_on"]) for row in rows_of(result.years) if row["frost_on"] is not None]
    return any((half == "spring") == (on.month > 6) for half, on in seen)


def _said(result: FrostDates) -> list[str]:
    said = ["Filled: years that count. Bars: intervals; an arrow where the years are too few to bound one."]
    left_out = _counted_not(rows_of(result.years))
    if left_out:
        said.append(f"Hollow or absent: {left_out} with days on which the lowest temperature is not recorded.")
    return said


def _counted_not(years: Sequence[Mapping[str, Any]]) -> str:
    halves = sum(not row["counted"] for row in years)
    return counted(halves, "half-year") if halves else ""
