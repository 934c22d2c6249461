"""An axis in a measure: crops from 0 with their unit, days as dates."""

from __future__ import annotations

from datetime import date, timedelta

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from perennia.analysis.measures import Measure
from perennia.report.calendar_axis import MONTHS
from perennia.report.columns import Floats, known

_ANY_YEAR = 2001


def value_axis(ax: Axes, measure: Measure, values: Floats, season: int | None) -> tuple[float, float]:
    """An x axis that holds all values; season: that of days, None for several or none. Returns its ends."""
    sure = known(values)
    if measure.kind == "day":
        low, high = (float(sure.min()), float(sure.max())) if sure.size else (1.0, 365.0)
        room = max(0.05 * (high - low), 2.0)
        ends = (low - room, high + room)
        ax.xaxis.set_major_locator(MaxNLocator(5, integer=True))
        ax.xaxis.set_major_formatter(FuncFormatter(lambda day, _: _date(day, season)))
        ax.set_xlabel(measure.meaning)
    else:
        ends = (min(0.0, float(sure.min(initial=0.0))), (float(sure.max(initial=0.0)) or 1.0) * 1.04)
        ax.set_xlabel(f"{measure.meaning}, {measure.unit}")
    ax.set_xlim(*ends)
    return ends


def gap_unit(measure: Measure) -> str:
    """The unit of a difference."""
    return "days" if measure.kind == "day" else measure.unit


def _date(day: float, season: int | None) -> str:
    try:
        on = date(season or _ANY_YEAR, 1, 1) + timedelta(days=round(day) - 1)
    except OverflowError:
        return ""
    return f"{on.day} {MONTHS[on.month - 1]}"
