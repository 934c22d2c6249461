"""When does a site have its last frost of spring and its first of autumn, and what does that say for planting out?"""

from __future__ import annotations

import math
from numbers import Real
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.causes.daily_weather import daily_weather, site_named
from perennia.analysis.causes.warmth.frost_quantiles import DayQuantile, NormalDays, day_quantile, normal_days
from perennia.analysis.causes.warmth.frost_wording import frost_cautions, frost_findings
from perennia.analysis.causes.warmth.frost_years import FrostHalf, FrostHalves, Half, frost_halves, month_day
from perennia.analysis.result import Result, framed
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from perennia.source import Source

YEARS_AT_LEAST = 10
"""Years below which no quantile is given, our own choice: with fewer, no interval bounds the day of one year in ten."""
_SHARES = (0.1, 0.5, 0.9)
_METHOD = (
    "Last day of the spring half and first day of the autumn half of each frost year (from 1 January north of the "
    "equator, from 1 July south of it) with a minimum {limit} {threshold:g} degrees C. Quantiles by linear "
    "interpolation between the ordered years; intervals ({level:.0%}) from the ordered years themselves, whatever the "
    "distribution; beside them the quantile of the normal distribution fitted by maximum likelihood. Where a quantile "
    "lies between two days, that of spring is put later and that of autumn sooner."
)

COLUMNS = {
    "half": "string", "share": "Float64", "day": "string", "low": "string", "high": "string", "normal_day": "string",
    "day_number": "Float64", "n_years": "Int64", "withheld": "string",
}  # fmt: skip
"""Columns of FrostDates.table; one row a half of the year and share.

half: spring (the last frost) or autumn (the first). share: of the years, that had it by that day. day: month and day,
missing where withheld or where it falls among years without such a frost. low, high: the interval, missing on a side
that the years are too few to bound. normal_day: by the normal fit, missing where a year had no such frost. day_number:
the quantile, not rounded, in days of a year that is not a leap year, 1 on 1 January north of the equator and on 1 July
south of it. n_years: years it rests on. withheld: why it is not given.
"""
YEARS = {
    "half": "string", "season": "Int64", "frost_on": "datetime64[s]", "missing_days": "Int64", "counted": "boolean",
}  # fmt: skip
"""Columns of FrostDates.years; one row a half of a frost year.

season: the year it begins in. frost_on: the last frost of its spring or the first of its autumn on record, missing
where there is none. missing_days: days without a minimum among those that must be whole. counted: whether
there are none.
"""


@attrs.frozen(kw_only=True, eq=False)
class FrostDates(Result):
    """When a site has its frosts (columns in frost_dates.COLUMNS), and the years behind it (columns in YEARS).

    plant_out_from: first day on which what is set out meets a later frost with at most the chance risk, and lift_by:
    last day before which autumn's first frost comes with at most that chance, both as month and day and missing where
    withheld. n: years whose spring or autumn counts.
    """

    years: pd.DataFrame
    risk: float
    plant_out_from: str | None
    lift_by: str | None


def frost_dates(
    source: Source, site: str, threshold: float = 0.0, *, level: float = 0.95, risk: float = 0.1,
    inclusive: bool = False,
) -> FrostDates:  # fmt: skip
    """The last frost of spring and the first of autumn at a site, by share of years, and when to plant out and to lift.

    One row is one half of the year and share of years; columns in COLUMNS. A frost is a day whose lowest air
    temperature is below threshold in degrees C (as meteorology counts frost days), or also at it where inclusive. risk:
    the chance to be taken of a frost after planting out, or before lifting. level: of the intervals between days in
    order (David and Nagaraja 2003). A year counts whose minima are all known between midsummer and the frost farthest
    from it in any year; the others are counted in the table years. Below 10 years nothing but the years themselves is
    given.

    Raises AnalysisError where the site has no latitude or no lowest temperature and for a level or risk that is no
    share; UnknownLabelError for an unknown site; ArgumentError for what is of another kind.
    """
    limit_c = _a_threshold(threshold)
    level, risk = _a_share(level, "level", 0.95), _a_share(risk, "risk", 0.1)
    place = site_named(source, site)
    if place.latitude is None:
        raise AnalysisError(
            f"{place.site} has no latitude, without which nobody can tell its spring from its autumn; record it"
        )
    lows = daily_weather(source, site=place.site)["t_min_c"]
    if lows.isna().all():
        raise AnalysisError(f"no lowest temperature is recorded of {place.site}; record t_min_c day by day")
    south = place.latitude < 0
    halves = [frost_halves(lows, limit_c, inclusive=inclusive, south=south, half=half) for half in ("spring", "autumn")]
    wanted = {"spring": 1 - risk, "autumn": risk}
    rows = [row for found in halves for row in _rows(found, wanted[found.half], level, south)]
    plant_out_from, lift_by = (
        _safe_day(found, wanted[found.half], level, south, step) for found, step in zip(halves, (1, -1), strict=True)
    )
    return FrostDates(
        table=framed(rows, COLUMNS),
        n=max(len(found.days) for found in halves),
        method=_METHOD.format(limit="at or below" if inclusive else "below", threshold=limit_c, level=level),
        units="a unit is a year; days are those of a year that is not a leap year.",
        cautions=frost_cautions(halves, YEARS_AT_LEAST),
        findings=frost_findings(halves, rows, risk, plant_out_from, lift_by, YEARS_AT_LEAST),
        years=framed([_year_row(year) for found in halves for year in found.years], YEARS),
        risk=risk,
        plant_out_from=None if plant_out_from is None else f"{plant_out_from:%m-%d}",
        lift_by=None if lift_by is None else f"{lift_by:%m-%d}",
    )


def _a_threshold(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(float(value)):
        raise ArgumentError(f"threshold is {value!r}; give a temperature in degrees C such as 0")
    return float(value)


def _a_share(value: object, what: str, usual: float) -> float:
    if isinstance(value, bool) or not isinstance(value, Real):
        raise ArgumentError(f"{what} is {value!r}; give a number between 0 and 1 such as {usual}")
    if not 0 < float(value) < 1:
        raise AnalysisError(f"{what} {value!r} is not between 0 and 1; {usual} is usual")
    return float(value)


def _rows(found: FrostHalves, wanted: float, level: float, south: bool) -> list[dict[str, object]]:
    shares = sorted({*_SHARES, round(wanted, 12)})
    days = found.days
    if len(days) < YEARS_AT_LEAST:
        empty: dict[str, object] = dict.fromkeys(COLUMNS)
        why = f"{len(days)} years that count; at least {YEARS_AT_LEAST} are needed"
        empty |= {"half": found.half, "n_years": len(days), "withheld": why}
        return [{**empty, "share": share} for share in shares]
    normal = normal_days(days)
    return [_row(found.half, day_quantile(days, share, level), normal, len(days), south) for share in shares]


def _row(half: Half, quantile: DayQuantile, normal: NormalDays | None, n: int, south: bool) -> dict[str, object]:
    reached = math.isfinite(quantile.day)
    return {
        "half": half,
        "share": quantile.share,
        "day": _shown(quantile.day, half, south),
        "low": _shown(quantile.low, half, south),
        "high": _shown(quantile.high, half, south),
        "normal_day": None if normal is None else _shown(normal.day(quantile.share), half, south),
        "day_number": quantile.day if reached else None,
        "n_years": n,
        "withheld": None if reached else "it falls among the years without such a frost",
    }


def _safe(day: float, half: Half) -> int:
    """A day between two days is put to the later in spring and to the sooner in autumn."""
    # a rest of the interpolation is no part of a day
    day = round(day, 6)
    return math.ceil(day) if half == "spring" else math.floor(day)


def _shown(day: float, half: Half, south: bool) -> str | None:
    return f"{month_day(_safe(day, half), south):%m-%d}" if math.isfinite(day) else None


def _safe_day(found: FrostHalves, share: float, level: float, south: bool, step: int) -> pd.Timestamp | None:
    """The day after the last frost of spring at that share of years, or that before the first of autumn."""
    if len(found.days) < YEARS_AT_LEAST:
        return None
    day = day_quantile(found.days, share, level).day
    return month_day(_safe(day, found.half) + step, south) if math.isfinite(day) else None


def _year_row(year: FrostHalf) -> dict[str, object]:
    return {
        "half": year.half, "season": year.season, "frost_on": year.on, "missing_days": year.missing,
        "counted": year.day is not None,
    }  # fmt: skip
