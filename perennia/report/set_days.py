"""Flowers by the day they opened and the day they were lost, above the water and the nights of the same days."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import attrs
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator, PercentFormatter

from perennia.analysis import DegreeDays, PodSet, WaterBalance
from perennia.analysis.causes.setting.flowers import FlowerBook
from perennia.checking.words import counted
from perennia.report.days import SHORT_OF_WATER, broken_at_gaps, day_axis, numbers_of, runs_of, shade
from perennia.report.look import BLUE, GREEN, INK, VERMILLION
from perennia.report.parts import Part, axes_in, sheet_of
from perennia.report.sheet import sentence

_MOST_NUMBERED = 25
"""Days above which the numbers behind the shares are left off."""
_PANEL_IN, _AROUND_IN = 1.25, 0.3
_MARGIN_DAYS = 2.0


@attrs.frozen
class _Panel:
    """One pair of axes of the stack: what draws it, and its height beside that of others."""

    draw: Callable[[Axes], None]
    height: float


def set_days(result: PodSet, water: WaterBalance | None, warmth: DegreeDays | None) -> Figure:
    """A part a season with flowers that were followed one by one and have a day."""
    books = [book for book in result.books.books if not _opened(result, book).empty]
    if not books:
        return sentence(
            "No flower with a day of opening is on record: trusses that were only counted show no day on which flowers "
            "set or failed."
        )
    return sheet_of([_stack(result, book, water, warmth) for book in books])


def _stack(result: PodSet, book: FlowerBook, water: WaterBalance | None, warmth: DegreeDays | None) -> Part:
    """The axes of one season over one another, and what is said of what is left out."""
    opened, lost = _opened(result, book), _of(result.by_loss_day, book)
    days = [*numbers_of(opened["on_from"]), *numbers_of(lost["on_from"])]
    first, last = min(days) - _MARGIN_DAYS, max(days) + _MARGIN_DAYS
    stressed, dry, said = _water_of(water, first, last)
    nights, more = _nights_of(warmth, first, last)
    panels = [_Panel(lambda ax: _draw_shares(ax, opened, stressed), 1.3)]
    if lost.empty:
        said.append("Losses: none recorded with a day.")
    else:
        panels.append(_Panel(lambda ax: _draw_losses(ax, lost, stressed), 1.0))
    if dry is not None:
        panels.append(_Panel(lambda ax: _draw_stress(ax, dry, stressed), 0.8))
    if nights is not None:
        panels.append(_Panel(lambda ax: _draw_nights(ax, nights), 0.9))
    counted_only = len(_of(result.trusses, book, "counts"))
    if counted_only:
        said.append(f"Trusses only counted, in none of the days: {counted_only}.")
    return Part(
        head=f"{book.crop}, {book.season_name}: what set, by the day it opened",
        body_in=_AROUND_IN + _PANEL_IN * sum(panel.height for panel in panels),
        draw=lambda body: _draw(body, panels, first, last),
        words=[_of_the_shares(opened), *said, *more],
    )


def _draw(body: SubFigure, panels: Sequence[_Panel], first: float, last: float) -> None:
    axes = axes_in(body, len(panels), 1, sharex=True, height_ratios=[panel.height for panel in panels])
    for ax, panel in zip(axes, panels, strict=True):
        panel.draw(ax)
    day_axis(axes[-1], first, last)
    body.align_ylabels(axes)


def _of_the_shares(opened: pd.DataFrame) -> str:
    text = "Shares are of flowers whose fate is decided, larger dots of more of them"
    untold = int(opened["set_share"].isna().sum())
    return f"{text}; ×: {counted(untold, 'day')} whose flowers have none." if untold else f"{text}."


def _of(frame: pd.DataFrame, book: FlowerBook, basis: str = "flowers") -> pd.DataFrame:
    return frame[(frame["crop"] == book.crop) & (frame["season"] == book.season) & (frame["basis"] == basis)]


def _opened(result: PodSet, book: FlowerBook) -> pd.DataFrame:
    return _of(result.by_opening_day, book)


def _water_of(
    water: WaterBalance | None, first: float, last: float
) -> tuple[list[float], pd.DataFrame | None, list[str]]:
    """Days short of water, the days of the balance that are drawn, and what is said where there are none."""
    if water is None:
        return [], None, ["Water stress: not given; water= takes the water_balance of the bed."]
    known = _within(water.table[water.table["ks"].notna()], first, last)
    if known.empty:
        return [], None, [f"Water stress of {water.bed}: not known on any of these days."]
    stressed = numbers_of(known.loc[known["ks"] < 1, "on"])
    said = f"Water of {water.bed}, {water.crop}: hatched where it was short (Ks below 1)."
    return stressed, known, [said + _lacking(known, first, last, "Not known")]


def _nights_of(warmth: DegreeDays | None, first: float, last: float) -> tuple[pd.DataFrame | None, list[str]]:
    """The days whose lowest temperature is drawn, and what is said where there is none."""
    if warmth is None:
        return None, ["Night temperature: not given; warmth= takes the degree_days of the place."]
    known = _within(warmth.table[warmth.table["t_min_c"].notna()], first, last)
    if known.empty:
        return None, [f"Night temperature of {warmth.measured_at}: not recorded on any of these days."]
    said = f"Night temperature of {warmth.measured_at}, the lowest of each day."
    return known, [said + _lacking(known, first, last, "Not recorded")]


def _lacking(known: pd.DataFrame, first: float, last: float, what: str) -> str:
    """On how many of the days drawn there is nothing, as a sentence after another; none where there are none."""
    lacking = int(last - first) + 1 - len(known)
    return f" {what} on {counted(lacking, 'day')}." if lacking else ""


def _within(table: pd.DataFrame, first: float, last: float) -> pd.DataFrame:
    days = pd.Series(numbers_of(table["on"]), index=table.index, dtype=float)
    return table[(days >= first) & (days <= last)]


def _draw_shares(ax: Axes, opened: pd.DataFrame, stressed: Sequence[float]) -> None:
    shade(ax, stressed, SHORT_OF_WATER)
    told = opened[opened["set_share"].notna()]
    days, shares, n = numbers_of(told["on_from"]), told["set_share"].tolist(), told["set_decided"].tolist()
    largest = max(n, default=1)
    ax.vlines(days, 0, shares, color=BLUE, linewidth=0.8)
    ax.scatter(days, shares, [10 + 60 * count / largest for count in n], color=BLUE, linewidth=0, gid="shares",
               clip_on=False)  # fmt: skip
    if len(days) <= _MOST_NUMBERED:
        for day, share, was_set, count in zip(days, shares, told["set"].tolist(), n, strict=True):
            ax.annotate(f"{was_set}/{count}", (day, share), (0, 7), textcoords="offset points", ha="center", fontsize=6,
                        annotation_clip=False)  # fmt: skip
    if untold := numbers_of(opened.loc[opened["set_share"].isna(), "on_from"]):
        ax.plot(untold, [0.0] * len(untold), "x", color=INK, markersize=4, clip_on=False)
    ax.set_ylim(0, 1.12)
    ax.set_yticks([0, 0.5, 1])
    ax.yaxis.set_major_formatter(PercentFormatter(1))
    ax.set_ylabel("set, of flowers\nopened that day")


def _draw_losses(ax: Axes, lost: pd.DataFrame, stressed: Sequence[float]) -> None:
    shade(ax, stressed, SHORT_OF_WATER)
    days, flowers, pods = numbers_of(lost["on_from"]), lost["flowers"].tolist(), lost["pods"].tolist()
    looks: dict[str, dict[str, Any]] = {
        "flowers": {"facecolor": "none", "edgecolor": VERMILLION, "linewidth": 0.9},
        "pods": {"facecolor": VERMILLION, "edgecolor": VERMILLION, "linewidth": 0.9},
    }
    ax.bar(days, flowers, 0.8, **looks["flowers"])
    ax.bar(days, pods, 0.8, bottom=flowers, **looks["pods"])
    ax.legend(handles=[Patch(label=name, **look) for name, look in looks.items()], loc="upper left",
              bbox_to_anchor=(1.0, 1.0), borderaxespad=0.0, handlelength=1.0)  # fmt: skip
    ax.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=4, min_n_ticks=1))
    ax.margins(y=0.1)
    ax.set_ylabel("dropped, by\nday seen")


def _draw_stress(ax: Axes, known: pd.DataFrame, stressed: Sequence[float]) -> None:
    shade(ax, stressed, SHORT_OF_WATER)
    days, ks = numbers_of(known["on"]), known["ks"].tolist()
    ax.step(*broken_at_gaps(days, ks), where="mid", color=GREEN, gid="stress")
    # a day between two that are not known has no line to either side
    alone = {(first + last) / 2 for first, last in runs_of(days) if last - first == 1}
    shown = [value if day in alone else math.nan for day, value in zip(days, ks, strict=True)]
    ax.plot(days, shown, "o", color=GREEN, markersize=3)
    ax.set_ylim(0, 1.08)
    ax.set_yticks([0, 0.5, 1])
    ax.set_ylabel("Ks, 1 where\nwater enough")


def _draw_nights(ax: Axes, known: pd.DataFrame) -> None:
    x, y = broken_at_gaps(numbers_of(known["on"]), known["t_min_c"].tolist())
    ax.plot(x, y, color=INK, linewidth=0.9, marker="o", markersize=2.2, gid="nights")
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=2))
    ax.set_ylabel("lowest of the\nday, °C")
