"""How much warmth did a place have, day by day, in degree-days above a base?"""

from __future__ import annotations

from datetime import date
from numbers import Real
from typing import TYPE_CHECKING

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.causes.daily_weather import (
    BedPlace,
    SitePlace,
    between,
    daily_weather,
    days_asked_for,
    place_named,
)
from perennia.analysis.causes.warmth.degree_day_methods import Method, degree_days_of
from perennia.analysis.result import Result
from perennia.checking.words import named_few
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from perennia.source import Source

_SOURCES = {
    "average": "the mean of the lowest and highest temperature, held to the base (McMaster and Wilhelm 1997, method 1)",
    "average floored": "the mean of the lowest and highest temperature, each held to the base first (McMaster and "
    "Wilhelm 1997, method 2)",
    "single triangle": "a triangle through the lowest and highest temperature (Zalom et al. 1983)",
    "double triangle": "a triangle through the lowest, the highest and the next day's lowest temperature (Zalom et al. "
    "1983)",
    "single sine": "a sine through the lowest and highest temperature (Zalom et al. 1983)",
    "double sine": "a sine through the lowest, the highest and the next day's lowest temperature (Zalom et al. 1983)",
}

COLUMNS = {
    "place": "string", "on": "datetime64[s]", "t_min_c": "Float64", "t_max_c": "Float64", "degree_days": "Float64",
    "sum": "Float64",
}  # fmt: skip
"""Columns of DegreeDays.table; one row a day, days without a record among them.

place: the site or bed. t_min_c, t_max_c: the day's lowest and highest air temperature in degrees C. degree_days: of
that day, in degree-days C, missing where a temperature they need is. sum: from the first day up to the end of this one,
missing from the first day on that has none.
"""


@attrs.frozen(kw_only=True, eq=False)
class DegreeDays(Result):
    """The degree-days of a place; one row of the table is one day (columns in degree_days.COLUMNS).

    base_c, upper_c: the thresholds in degrees C. measured_at: the site or bed whose weather it is, which for a bed
    without weather of its own is its site. missing: days without degree-days. n: days with them.
    """

    place: str
    measured_at: str
    base_c: float
    upper_c: float | None
    missing: int


def degree_days(
    source: Source, place: str, base: float, upper: float | None = None, method: Method = "average", *,
    since: str | date | None = None, until: str | date | None = None,
) -> DegreeDays:  # fmt: skip
    """The degree-days of a site or bed above base, in degrees C, day by day and summed from the first day.

    One row is one day; columns in COLUMNS. place: a site, or a bed. A bed with any weather of its own in the time asked
    for is summed from that alone, another from its site's: the air of a glasshouse and that outside are never mixed in
    one sum. upper: the threshold above which no more is added. method: average, average floored, single triangle,
    double triangle, single sine or double sine (Zalom et al. 1983), as degree_day_methods.degree_days_of says; average
    is that of the view degree_days and of the curves. since, until: the first and last day, those of the weather
    records unless given. A day without both temperatures has no degree-days and ends the sum: nothing is put in its
    place.

    Raises AnalysisError for an unknown method, for an upper threshold that is not above the base, and where there is
    no weather; UnknownLabelError for an unknown place; ArgumentError for what is of another kind.
    """
    base_c = _a_temperature(base, "base")
    upper_c = None if upper is None else _a_temperature(upper, "upper")
    first, last = days_asked_for(since, until)
    site, bed = place_named(source, place)
    measured_at, known = _weather(source, site, bed, first, last)
    days = between(known, first, last)
    if days.empty:
        ends = f"from {known.index[0]:%Y-%m-%d} to {known.index[-1]:%Y-%m-%d}"
        raise AnalysisError(f"the weather of {measured_at} is recorded {ends}; ask for days among these")
    low, high = days["t_min_c"].to_numpy(), days["t_max_c"].to_numpy()
    warmth = degree_days_of(low, high, base_c, upper_c, method)
    table = pd.DataFrame(
        {
            "place": place, "on": days.index, "t_min_c": low, "t_max_c": high, "degree_days": warmth,
            "sum": np.cumsum(warmth),
        },
    ).astype(COLUMNS)  # fmt: skip
    missing = int(np.isnan(warmth).sum())
    return DegreeDays(
        table=table,
        n=len(table) - missing,
        method=f"Degree-days of a day: {_SOURCES[method]}"
        + ("." if upper_c is None else f"; nothing is added above {upper_c:g} degrees C.")
        + " The sum ends before the first day without them.",
        units=f"a unit is a day; degree-days C above {base_c:g} degrees C.",
        cautions=tuple(_cautions(table, method, missing, bed, measured_at)),
        findings=(_finding(table, str(place), base_c),),
        place=str(place),
        measured_at=measured_at,
        base_c=base_c,
        upper_c=upper_c,
        missing=missing,
    )


def _a_temperature(value: object, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not np.isfinite(float(value)):
        raise ArgumentError(f"{what} is {value!r}; give a temperature in degrees C such as 8")
    return float(value)


def _weather(
    source: Source, site: SitePlace | None, bed: BedPlace | None, since: date | None, until: date | None
) -> tuple[str, pd.DataFrame]:
    """The place whose weather holds for it, and that weather."""
    if bed is not None:
        own = daily_weather(source, bed=bed.bed)
        if not own.empty and between(own, since, until)[["t_min_c", "t_max_c"]].notna().to_numpy().any():
            return f"bed {bed.bed}", own
    name = site.site if site is not None else bed.site if bed is not None else ""
    outside = daily_weather(source, site=name)
    if outside.empty:
        of = f"site {name}" if bed is None else f"bed {bed.bed} or its site {name}"
        raise AnalysisError(f"no weather is recorded of {of}; record its lowest and highest temperatures day by day")
    return f"site {name}", outside


def _finding(table: pd.DataFrame, place: str, base_c: float) -> str:
    reached = table.dropna(subset=["sum"])
    if reached.empty:
        return f"The first day of {place}, {table['on'].iloc[0]:%Y-%m-%d}, lacks a temperature: nothing can be summed."
    first, last = table["on"].iloc[0], reached["on"].iloc[-1]
    return (
        f"From {first:%Y-%m-%d} to {last:%Y-%m-%d} {place} had {reached['sum'].iloc[-1]:.0f} degree-days above "
        f"{base_c:g} degrees C."
    )


def _cautions(table: pd.DataFrame, method: str, missing: int, bed: BedPlace | None, measured_at: str) -> list[str]:
    found = []
    if missing:
        gaps = [f"{day:%Y-%m-%d}" for day in table.loc[table["degree_days"].isna(), "on"]]
        double = "; a double method needs the next day's lowest temperature too" if method.startswith("double") else ""
        found.append(
            f"{missing} of {len(table)} days lack a temperature, the first of them {gaps[0]}{double}: the sum is "
            f"missing from it on. Write down what they lack ({named_few(gaps)}), or ask for the days between them with "
            "since and until."
        )
    if bed is not None and measured_at != f"bed {bed.bed}":
        under = "" if bed.cover == "open" else f", and under its cover ({bed.cover}) it was warmer or colder than that"
        found.append(f"{bed.bed} has no temperatures of its own here; those of {measured_at} stand in{under}.")
    return found
