"""The days of a bed's season: what each asked of the root zone, and what became of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.causes.daily_weather import SitePlace, between
from perennia.analysis.causes.water.bed_season import BedSeason
from perennia.analysis.causes.water.crop_coefficient import Coefficients, Stages, lowest_humidity_pct
from perennia.analysis.causes.water.crop_figures import CropFigures
from perennia.analysis.causes.water.evapotranspiration import reference_et
from perennia.analysis.causes.water.root_zone import DayInput, balance, depletion_fraction
from perennia.errors import AnalysisError

_LACKING = {
    "et0_mm": "a temperature is not recorded", "rain_mm": "no rain is recorded, nor that there was none",
    "watering_mm": "a watering has no depth",
}  # fmt: skip
UNKNOWN_BEFORE = "not known since an earlier day"


@attrs.frozen(eq=False)
class Covering:
    """The cover over the bed by day, and the shares of rain and of evapotranspiration by cover."""

    by_day: pd.Series[str]
    rain: Mapping[str, float]
    et: Mapping[str, float]


def season_stages(stages: Stages, grown: BedSeason) -> Stages:
    """The stages fitted to what is recorded: first flowers begin mid-season, late picking lengthens it."""
    if grown.flowers_on is not None and (before := (grown.flowers_on - grown.begins_on).days) > 0:
        stages = stages.mid_begins_after(before)
    if grown.last_pick is not None:
        stages = stages.lasting((grown.last_pick - grown.begins_on).days + 1)
    return stages


def season_days(weather: pd.DataFrame, grown: BedSeason, stages: Stages, since: date | None) -> pd.DataFrame:
    """The weather of each day from the first of the stages, or since, to the last; of a running season, to the last day
    with weather. Raises AnalysisError where there is no such day."""
    first = grown.begins_on if since is None else pd.Timestamp(since)
    last = min(grown.begins_on + pd.Timedelta(days=stages.total - 1), grown.last_day, grown.ends_on or grown.last_day)
    if grown.running:
        last = min(last, weather.index[-1])
    if last < grown.begins_on:
        raise AnalysisError(
            f"the weather of the site ends on {weather.index[-1]:%Y-%m-%d}, before {grown.crop} began there on "
            f"{grown.begins_on:%Y-%m-%d}"
        )
    if not grown.begins_on <= first <= last:
        raise AnalysisError(
            f"the season of {grown.crop} there runs from {grown.begins_on:%Y-%m-%d} to {last:%Y-%m-%d} as far as there "
            f"is weather; {first:%Y-%m-%d} is not in it"
        )
    return between(weather, first.date(), last.date())


def coefficients_in_climate(
    kc: Coefficients, days: pd.DataFrame, stage: pd.Series[str], height_m: float
) -> Coefficients:
    """Those of the tables fitted to the mean wind and lowest humidity of the mid-season's days, the dew point taken as
    the lowest temperature. Raises AnalysisError where none of these days has wind and temperatures."""
    mid = days[stage == "mid"].dropna(subset=["wind_m_s", "t_min_c", "t_max_c"])
    if mid.empty:
        raise AnalysisError(
            "crop_height_m fits the coefficients to the wind of the mid-season, and none of its days has wind and "
            "temperatures; leave it out"
        )
    humidity = [lowest_humidity_pct(low, high) for low, high in zip(mid["t_min_c"], mid["t_max_c"], strict=True)]
    return kc.in_climate(float(mid["wind_m_s"].mean()), float(np.mean(humidity)), height_m)


def stage_of(days: pd.DatetimeIndex, grown: BedSeason, stages: Stages) -> pd.Series[str]:
    """The stage of each day."""
    return pd.Series([stages.at(_number(day, grown)) for day in days], index=days, dtype="string")


def asked_days(
    days: pd.DataFrame, site: SitePlace, latitude: float, grown: BedSeason, figures: CropFigures, stages: Stages,
    covering: Covering, watering_mm: pd.Series[float],
) -> pd.DataFrame:  # fmt: skip
    """What each day asked: the columns of the balance up to watering_mm, and fraction, p on that day; nan where not
    known. Under a cover that keeps all rain out, rain need not be known."""
    index = pd.DatetimeIndex(days.index)
    found = reference_et(days, latitude, site.elevation_m)
    through = covering.by_day.map(covering.rain).to_numpy(dtype=float)
    found["rain_mm"] = np.where(through == 0, 0.0, days["rain_mm"].to_numpy() * through)
    found["watering_mm"] = watering_mm
    found["stage"] = stage_of(index, grown, stages)
    found["cover"] = covering.by_day
    found["kc"] = [figures.kc.at(_number(day, grown), stages) for day in index]
    found["etc_mm"] = found["kc"] * found["et0_mm"] * covering.by_day.map(covering.et).to_numpy(dtype=float)
    found["fraction"] = [
        math.nan if math.isnan(etc) else depletion_fraction(figures.fraction, etc) for etc in found["etc_mm"]
    ]
    return found


def balanced(asked: pd.DataFrame, taw_mm: float, start_mm: float, ground_m2: float | None) -> pd.DataFrame:
    """The days asked with what became of each: the columns of the balance."""
    inputs = [
        DayInput(etc, rain + watering, fraction)
        for etc, rain, watering, fraction in zip(
            asked["etc_mm"], asked["rain_mm"], asked["watering_mm"], asked["fraction"], strict=True
        )
    ]
    found = balance(inputs, taw_mm, start_mm)
    table = asked.drop(columns="fraction").rename_axis("on").reset_index()
    for name in ("raw_mm", "ks", "et_mm", "percolation_mm", "depletion_mm"):
        table[name] = [None if day is None else getattr(day, name) for day in found]
    table["extra_watering_mm"] = [None if day is None else day.extra_mm for day in found]
    table["extra_watering_litres"] = [
        None if day is None or ground_m2 is None else day.extra_mm * ground_m2 for day in found
    ]
    table["missing"] = [None if day is not None else _why(row) for day, row in zip(found, _rows(asked), strict=True)]
    return table


def _number(day: pd.Timestamp, grown: BedSeason) -> int:
    """The number of a day in the season, 1 the first."""
    return (day - grown.begins_on).days + 1


def _rows(asked: pd.DataFrame) -> list[dict[str, float]]:
    rows: list[dict[str, float]] = asked[list(_LACKING)].to_dict("records")  # type: ignore[assignment]
    return rows


def _why(row: Mapping[str, float]) -> str:
    return "; ".join(why for name, why in _LACKING.items() if math.isnan(row[name])) or UNKNOWN_BEFORE
