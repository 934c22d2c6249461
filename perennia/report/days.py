"""The axis of days, and what is drawn on it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, date2num, num2date
from matplotlib.ticker import FixedLocator, Formatter

from perennia.report.calendar_axis import MONTHS
from perennia.report.look import FAINT, OCHRE, Stroke, area

SHORT_OF_WATER = Stroke(OCHRE, "-", "s", "////")
"""How days on which plants drew less water than they would have are shaded."""


def number_of(day: date | datetime) -> float:
    """The place of a day on the axis."""
    return float(date2num(day))  # type: ignore[no-untyped-call]


def numbers_of(days: Iterable[Any]) -> list[float]:
    """The places of days."""
    return [number_of(pd.Timestamp(day).to_pydatetime()) for day in days]


def day_axis(ax: Axes, first: float, last: float, *, most_ticks: int = 8) -> None:
    """Days as 3 May, with the year under the first of each, half a day left free on either side."""
    ax.set_xlim(first - 0.5, last + 0.5)
    ax.xaxis.set_major_locator(FixedLocator(_ticks(first, last, most_ticks)))
    ax.xaxis.set_major_formatter(_DayNames())


def _ticks(first: float, last: float, most: int) -> list[float]:
    """Found once: many axes that share them would each ask again, which is slow."""
    if last - first < most:
        return [float(day) for day in range(math.ceil(first), math.floor(last) + 1)]
    locator = AutoDateLocator(  # type: ignore[no-untyped-call]
        minticks=max(2, most // 2), maxticks=most, interval_multiples=last - first > 14
    )
    ticks = locator.tick_values(num2date(first), num2date(last))  # type: ignore[no-untyped-call]
    return [float(tick) for tick in ticks if first - 0.5 <= tick <= last + 0.5]


class _DayNames(Formatter):
    """Ticks as 3 May, with the year under the first of each."""

    def __call__(self, x: float, pos: int | None = None) -> str:
        """One day by itself, as under a pointer."""
        day = num2date(x)  # type: ignore[no-untyped-call]
        return f"{named(day)} {day.year}"

    def format_ticks(self, values: list[float]) -> list[str]:
        """All ticks in their order."""
        days = [num2date(value) for value in values]  # type: ignore[no-untyped-call]
        years = [None, *(day.year for day in days)]
        return [
            named(day) + (f"\n{day.year}" if day.year != before else "")
            for day, before in zip(days, years, strict=False)
        ]


def named(day: date) -> str:
    """A day as 3 May, whatever the language of the machine."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def runs_of(days: Sequence[float]) -> list[tuple[float, float]]:
    """Unbroken runs of days in order, each from half a day before its first to half a day after its last."""
    runs: list[tuple[float, float]] = []
    for day in days:
        if runs and day - 0.5 <= runs[-1][1]:
            runs[-1] = (runs[-1][0], day + 0.5)
        else:
            runs.append((day - 0.5, day + 0.5))
    return runs


def broken_at_gaps(days: Sequence[float], values: Sequence[float]) -> tuple[list[float], list[float]]:
    """Points of a line through days in order, with a break wherever a day between two of them is lacking."""
    x, y = list(days[:1]), list(values[:1])
    for before, day, value in zip(days, days[1:], values[1:], strict=False):
        if day - before > 1:
            x.append(math.nan)
            y.append(math.nan)
        x.append(day)
        y.append(value)
    return x, y


def shade(ax: Axes, days: Sequence[float], stroke: Stroke) -> None:
    """Mark runs of days over the whole height, by colour and by hatch."""
    for first, last in runs_of(days):
        ax.axvspan(first, last, hatch=stroke.hatch, zorder=0, **area(stroke.colour, FAINT / 2))
