"""The water of a bed: what its root zone lacked day by day, and what rain and watering brought."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from perennia.analysis import WaterBalance
from perennia.checking.words import counted
from perennia.report.days import SHORT_OF_WATER, day_axis, numbers_of, runs_of, shade
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, INK, OCHRE, SKY, SMALL_PT
from perennia.report.sheet import grid, notes, title


@figure_of(
    WaterBalance, axes="several", is_empty=lambda result: result.n == 0,
    nothing="The water balance is known on none of these days; the cautions say what is not recorded.",
)  # fmt: skip
def water(result: WaterBalance) -> Figure:
    """Depletion against RAW and TAW, days of stress shaded, over the rain and watering that reached the soil, in mm."""
    figure, ((zone,), (given,)) = grid(2, 1, 4.4, sharex=True, height_ratios=[2.4, 1])
    table = result.table
    days = numbers_of(table["on"])
    _root_zone(zone, result, days)
    _water_given(given, table, days)
    day_axis(given, days[0], days[-1])
    title(figure, f"Water in {result.bed}, {result.crop}")
    notes(figure, _said(result))
    return figure


def _root_zone(ax: Axes, result: WaterBalance, days: list[float]) -> None:
    table = result.table
    shade(ax, _stressed_days(table), SHORT_OF_WATER)
    ax.axhline(result.taw_mm, color=INK, linewidth=0.8, gid="taw")
    ax.plot(days, _plain(table["raw_mm"]), color=OCHRE, linestyle=(0, (5, 2)), linewidth=1.2, gid="raw",
            marker="_" if len(days) < 3 else "")  # fmt: skip
    lacking = _plain(table["depletion_mm"])
    ax.plot(days, lacking, color=BLUE, marker="o" if len(days) < 8 else "", markersize=3, gid="depletion")
    for first, last in runs_of([day for day, why in zip(days, table["missing"], strict=True) if not pd.isna(why)]):
        ax.plot([first, last], [0, 0], color=INK, linestyle=(0, (1, 1.5)), linewidth=2, clip_on=False)
        ax.annotate("not known", ((first + last) / 2, 0), (0, -3), textcoords="offset points", ha="center", va="top",
                    fontsize=SMALL_PT)  # fmt: skip
    ax.set_ylim(result.taw_mm * 1.06, 0)
    ax.set_ylabel("lacking in the root zone, mm")
    known = table[table["missing"].isna()]
    _at_the_end(ax, {
        f"TAW, all that plants\ncan draw: {result.taw_mm:.0f} mm": result.taw_mm,
        "RAW, no stress\nabove it": float(known["raw_mm"].iloc[-1]),
        "lacking at the\nend of the day": float(known["depletion_mm"].iloc[-1]),
    }, result.taw_mm)  # fmt: skip


def _at_the_end(ax: Axes, words: dict[str, float], full_mm: float) -> None:
    """Names of the lines at their right end, moved apart where they would run into each other."""
    apart = full_mm * 0.19
    ordered = sorted(words, key=words.__getitem__)
    heights, above = [], -apart
    for text in ordered:
        above = max(words[text], above + apart)
        heights.append(above)
    below = full_mm + apart
    for place in reversed(range(len(heights))):
        below = heights[place] = min(heights[place], below - apart)
    for text, height in zip(ordered, heights, strict=True):
        ax.text(1.01, height, text, transform=ax.get_yaxis_transform(), va="center", fontsize=SMALL_PT)


_GIVEN: Mapping[str, dict[str, Any]] = {
    "rain": {"color": SKY, "linewidth": 0},
    "watering": {"facecolor": "none", "edgecolor": INK, "hatch": "////", "linewidth": 0.5},
}


def _water_given(ax: Axes, table: pd.DataFrame, days: list[float]) -> None:
    rain, watering = (_plain(table[name].fillna(0)) for name in ("rain_mm", "watering_mm"))
    for name, depths, below in (("rain", rain, [0.0] * len(days)), ("watering", watering, rain)):
        wet = [place for place, mm in enumerate(depths) if mm > 0]
        ax.bar([days[place] for place in wet], [depths[place] for place in wet], 0.9,
               bottom=[below[place] for place in wet], gid=name, **_GIVEN[name])  # fmt: skip
    ax.set_ylabel("reached the soil,\nmm a day")
    if not any(rain) and not any(watering):
        ax.set_ylim(0, 1)
    ax.legend(handles=[Patch(label=name, **look) for name, look in _GIVEN.items()], loc="upper left",
              bbox_to_anchor=(1.0, 1.0), borderaxespad=0.0, handlelength=1.2)  # fmt: skip


def _stressed_days(table: pd.DataFrame) -> list[float]:
    """The days on which the crop drew less than it would have."""
    return numbers_of(table.loc[table["ks"].notna() & (table["ks"] < 1).fillna(False), "on"])


def _plain(values: pd.Series[float]) -> list[float]:
    return [float(value) for value in values.to_numpy(dtype=float, na_value=float("nan"))]


def _said(result: WaterBalance) -> list[str]:
    said = ["No day known was short of water." if not result.stress_days else
            f"Hatched: {counted(result.stress_days, 'day')} short of water (Ks below 1); the crop drew "
            f"{result.stress_mm:.0f} mm less than it would have."]  # fmt: skip
    if result.missing:
        said.append(f"On {counted(result.missing, 'day')} the balance is not known.")
    for name, of in (("rain_mm", "without a record of rain"), ("watering_mm", "with watering of no known depth")):
        if lacking := int(result.table[name].isna().sum()):
            said.append(f"No bar: {counted(lacking, 'day')} {of}.")
    return [" ".join(said)]
