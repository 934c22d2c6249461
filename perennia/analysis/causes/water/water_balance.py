"""Had the plants of a bed water enough, day by day, and what watering would have kept them from stress?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from numbers import Real
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.causes.daily_weather import BedPlace, SitePlace, bed_named, daily_weather, site_named
from perennia.analysis.causes.water.bed_season import bed_season
from perennia.analysis.causes.water.covers import ET_UNDER, RAIN_THROUGH, covers_of, shares
from perennia.analysis.causes.water.crop_figures import crop_figures
from perennia.analysis.causes.water.given_water import given_water
from perennia.analysis.causes.water.root_zone import total_available_mm
from perennia.analysis.causes.water.soils import soil_of
from perennia.analysis.causes.water.water_days import (
    Covering,
    asked_days,
    balanced,
    coefficients_in_climate,
    season_days,
    season_stages,
    stage_of,
)
from perennia.analysis.causes.water.water_wording import METHOD, UNITS, Told, water_cautions, water_findings
from perennia.analysis.result import Result
from perennia.checking import arguments
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from perennia.source import Source

COLUMNS = {
    "on": "datetime64[s]", "stage": "string", "cover": "string", "et0_method": "string", "et0_mm": "Float64",
    "kc": "Float64", "etc_mm": "Float64", "rain_mm": "Float64", "watering_mm": "Float64", "raw_mm": "Float64",
    "ks": "Float64", "et_mm": "Float64", "percolation_mm": "Float64", "depletion_mm": "Float64",
    "extra_watering_mm": "Float64", "extra_watering_litres": "Float64", "missing": "string",
}  # fmt: skip
"""Columns of WaterBalance.table; one row a day of the season.

stage: initial, development, mid or late. cover: over the bed. et0_mm: reference evapotranspiration outside, and
et0_method the way to it, Penman-Monteith or Hargreaves. kc: crop coefficient. etc_mm: what a crop with water enough
draws under that cover. rain_mm: that reaches the soil. watering_mm: over the ground of the bed. raw_mm: RAW, how far
the soil may be depleted without stress. ks: 1 without stress, 0 where the plants can draw nothing. et_mm: what they
drew. percolation_mm: what sank below the roots. depletion_mm: what the root zone lacks at the end of the day.
extra_watering_mm, in litres over the bed extra_watering_litres: the least that, given by that morning beside all that
was given, would have kept ks at 1. missing: why the balance is not known that day.
"""


@attrs.frozen(kw_only=True, eq=False)
class WaterBalance(Result):
    """The water of a bed in a season; one row of the table is one day (columns in water_balance.COLUMNS).

    taw_mm: what the soil within reach of the roots holds for plants. ground_m2: the ground litres are taken over, None
    where not known. stress_days, stress_mm: days with ks below 1, and by how much the crop drew less than it would
    have. extra_watering_mm, extra_watering_litres: the sums of those columns. missing: days whose balance is not known.
    n: days whose balance is.
    """

    bed: str
    crop: str
    season: int
    taw_mm: float
    ground_m2: float | None
    stress_days: int
    stress_mm: float
    extra_watering_mm: float
    extra_watering_litres: float | None
    missing: int


def water_balance(
    source: Source, bed: str, season: int, *, crop: str | None = None, soil: str | None = None,
    theta_fc: float | None = None, theta_wp: float | None = None, kc: Sequence[float] | None = None,
    stage_days: Sequence[int] | None = None, root_depth_m: float | None = None,
    depletion_fraction: float | None = None, crop_height_m: float | None = None,
    cover_rain: Mapping[str, float] | None = None, cover_et: Mapping[str, float] | None = None,
    since: str | date | None = None, start_depletion_mm: float = 0.0,
) -> WaterBalance:  # fmt: skip
    """The daily water balance of a bed's root zone in one season, after FAO Irrigation and Drainage Paper 56 (1998).

    One row is one day, in mm; columns in COLUMNS. The initial stage begins on the day by which half the plants had been
    sown, planted or had regrown there. Mid-season begins on the day by which half of them had opened a flower, where
    that is recorded, the stages before it stretched or shortened in proportion; else by the days of the profile.
    Picking that goes on longer than the stages lengthens mid-season. The balance ends with the late stage, the last
    plant or the growing year.

    crop: needed where the bed held several. soil: a texture of table 19 in place of the bed's own, or theta_fc and
    theta_wp, its water content at field capacity and wilting point in m3 per m3. kc (initial, mid, end), stage_days
    (four), root_depth_m, depletion_fraction: in place of the profile's. crop_height_m: the coefficients are then fitted
    to wind and humidity of the mid-season (equations 62 and 65). cover_rain, cover_et: shares by cover, in place of
    covers.RAIN_THROUGH and covers.ET_UNDER. since: the day the balance begins, at field capacity or with
    start_depletion_mm lacking. Nothing is put in place of a day whose temperatures, rain or watering are not known: the
    balance is missing from it on until the soil is full again whatever it held.

    Raises AnalysisError where pyet is not installed, nothing grew there, the soil or a figure is not known or the site
    has no latitude or weather; UnknownLabelError for an unknown bed; ArgumentError for what is of another kind.
    """
    place, year = bed_named(source, bed), arguments.a_year(season, "season")
    grown = bed_season(source, place, year, None if crop is None else arguments.a_name(crop, "crop"))
    own = {"kc": kc, "stage_days": stage_days, "root_depth_m": root_depth_m, "depletion_fraction": depletion_fraction}
    figures = crop_figures(source, grown.crop, own)
    texture = place.soil if soil is None else arguments.a_name(soil, "soil")
    ground = soil_of(texture, _a_content(theta_fc, "theta_fc"), _a_content(theta_wp, "theta_wp"), place.bed)
    taw_mm = total_available_mm(ground.theta_fc, ground.theta_wp, figures.root_depth_m)
    start_mm = _a_depletion(start_depletion_mm, taw_mm)
    site, latitude, weather = _site_weather(source, place)
    stages = season_stages(figures.stages, grown)
    days = season_days(weather, grown, stages, arguments.a_day(since, "since"))
    index = pd.DatetimeIndex(days.index)
    if crop_height_m is not None:
        height_m = arguments.a_number_above_0(crop_height_m, "crop_height_m")
        kc_here = coefficients_in_climate(figures.kc, days, stage_of(index, grown, stages), height_m)
        figures = attrs.evolve(figures, kc=kc_here)
    covering = Covering(
        covers_of(source, place.bed, place.cover, index),
        shares(cover_rain, RAIN_THROUGH, "cover_rain"), shares(cover_et, ET_UNDER, "cover_et"),
    )  # fmt: skip
    given = given_water(source, place.bed, grown.plants, grown.ground_m2, index)
    asked = asked_days(days, site, latitude, grown, figures, stages, covering, given.mm)
    table = balanced(asked, taw_mm, start_mm, grown.ground_m2)[list(COLUMNS)].astype(COLUMNS)
    return _answer(Told(place, site, grown, figures, ground, taw_mm, start_mm, covering, given), table, year)


def _answer(told: Told, table: pd.DataFrame, season: int) -> WaterBalance:
    known = table[table["missing"].isna()]
    stressed = known[known["ks"] < 1]
    extra_mm, ground_m2 = float(known["extra_watering_mm"].sum()), told.grown.ground_m2
    return WaterBalance(
        table=table,
        n=len(known),
        method=METHOD,
        units=UNITS,
        cautions=water_cautions(told, table),
        findings=water_findings(told, table),
        bed=told.place.bed,
        crop=told.grown.crop,
        season=season,
        taw_mm=told.taw_mm,
        ground_m2=ground_m2,
        stress_days=len(stressed),
        stress_mm=float((stressed["etc_mm"] - stressed["et_mm"]).sum()),
        extra_watering_mm=extra_mm,
        extra_watering_litres=None if ground_m2 is None else extra_mm * ground_m2,
        missing=len(table) - len(known),
    )


def _site_weather(source: Source, bed: BedPlace) -> tuple[SitePlace, float, pd.DataFrame]:
    """The bed's site, its latitude and its weather. Raises AnalysisError where either is not recorded."""
    site = site_named(source, bed.site)
    if site.latitude is None:
        raise AnalysisError(
            f"{site.site} has no latitude, without which nobody knows how much sun a day can have; record it"
        )
    weather = daily_weather(source, site=site.site)
    if weather.empty:
        raise AnalysisError(
            f"no weather is recorded of {site.site}, the site of {bed.bed}; record temperatures and rain day by day"
        )
    return site, site.latitude, weather


def _a_depletion(value: object, taw_mm: float) -> float:
    """Raises ArgumentError for what is no number, AnalysisError for one that the soil cannot lack."""
    if isinstance(value, bool) or not isinstance(value, Real):
        raise ArgumentError(f"start_depletion_mm is {value!r}; give mm that the soil lacks, 0 at field capacity")
    if not 0 <= float(value) <= taw_mm:
        raise AnalysisError(f"start_depletion_mm is {value}; what this soil can lack is from 0 to {taw_mm:.0f} mm")
    return float(value)


def _a_content(value: object, what: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, Real):
        raise ArgumentError(f"{what} is {value!r}; give m3 of water per m3 of soil such as 0.25")
    return float(value)
