"""The warmth of a place: degree-days of each day and their sum."""

from __future__ import annotations

from matplotlib.figure import Figure

from perennia.analysis import DegreeDays
from perennia.checking.words import counted
from perennia.report.days import day_axis, numbers_of
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, INK, VERMILLION
from perennia.report.sheet import grid, notes, title


@figure_of(
    DegreeDays, axes="several", is_empty=lambda result: result.n == 0,
    nothing="No day asked for has the temperatures that degree-days need, so nothing can be summed.",
)  # fmt: skip
def warmth(result: DegreeDays) -> Figure:
    """The sum of degree-days over the days of each, and marks where a temperature is not recorded."""
    figure, ((total,), (daily,)) = grid(2, 1, 4.2, sharex=True, height_ratios=[2, 1])
    table = result.table
    days = numbers_of(table["on"])
    sums, each = (table[name].to_numpy(dtype=float, na_value=float("nan")) for name in ("sum", "degree_days"))
    total.plot(days, sums, color=BLUE, marker="o" if len(days) < 8 else "", markersize=3)
    reached = table["sum"].notna()
    if reached.any():
        last = int(reached.sum()) - 1
        total.plot([days[last]], [sums[last]], "o", color=BLUE, markersize=4, clip_on=False)
        total.annotate(f"{sums[last]:.0f}", (days[last], sums[last]), (4, 0), textcoords="offset points",
                       va="center", annotation_clip=False)  # fmt: skip
    total.set_ylim(bottom=0)
    total.set_ylabel("degree-days °C,\nsum")
    daily.bar(days, each, width=0.9, color=VERMILLION, linewidth=0)
    if lacking := numbers_of(table.loc[table["degree_days"].isna(), "on"]):
        daily.plot(lacking, [0.0] * len(lacking), "x", color=INK, markersize=4, clip_on=False)
    daily.set_ylim(bottom=0)
    daily.set_ylabel("degree-days °C,\na day")
    day_axis(daily, days[0], days[-1])
    upper = "" if result.upper_c is None else f", up to {result.upper_c:g} °C"
    title(figure, f"Warmth of {result.place}: degree-days above {result.base_c:g} °C{upper}")
    notes(figure, _said(result, bool(reached.all())))
    return figure


def _said(result: DegreeDays, whole: bool) -> list[str]:
    said = [f"Temperatures of {result.measured_at}; {counted(result.n, 'day')} with degree-days."]
    if result.missing:
        said.append(f"×: {counted(result.missing, 'day')} without a temperature they need.")
    if not whole:
        said.append("The sum ends before the first of them.")
    return [" ".join(said)]
