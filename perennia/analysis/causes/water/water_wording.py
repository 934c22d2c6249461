"""The water of a bed in sentences."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import pandas as pd

from perennia.analysis.causes.daily_weather import BedPlace, SitePlace
from perennia.analysis.causes.water.bed_season import BedSeason
from perennia.analysis.causes.water.crop_figures import CropFigures
from perennia.analysis.causes.water.evapotranspiration import HARGREAVES
from perennia.analysis.causes.water.given_water import GivenWater
from perennia.analysis.causes.water.soils import Soil
from perennia.analysis.causes.water.water_days import UNKNOWN_BEFORE, Covering
from perennia.checking.words import counted, named_few

METHOD = (
    "Daily balance of the root zone with a single crop coefficient, FAO Irrigation and Drainage Paper 56 (Allen, "
    "Pereira, Raes and Smith 1998). Reference evapotranspiration by Penman-Monteith where temperatures, humidity, wind "
    "and radiation are known, else by Hargreaves (library pyet). Ks goes by the depletion at the start of the day, p "
    "by the day's evapotranspiration. Run-off and water from below are taken to be none."
)
UNITS = "a unit is a day of the bed; mm are litres on a square metre."


@attrs.frozen(eq=False)
class Told:
    """What the sentences are made of."""

    place: BedPlace
    site: SitePlace
    grown: BedSeason
    figures: CropFigures
    soil: Soil
    taw_mm: float
    start_mm: float
    covering: Covering
    given: GivenWater


def water_findings(told: Told, table: pd.DataFrame) -> tuple[str, ...]:
    """How much the crop lacked, when, what would have helped, and where the water went."""
    known = table[table["missing"].isna()]
    where = f"{told.grown.crop} in {told.place.bed}, {told.grown.season_name}"
    if known.empty:
        return (f"{where}: the balance is known on none of {counted(len(table), 'day')}.",)
    whole = len(known) == len(table)
    return (
        f"{where}: {_stress(known, whole, len(table))}",
        _watering(told, known, whole),
        f"On the days known {known['rain_mm'].sum():.0f} mm of rain and {known['watering_mm'].sum():.0f} mm of "
        f"watering reached the soil, the crop drew {known['et_mm'].sum():.0f} mm, and "
        f"{known['percolation_mm'].sum():.0f} mm sank below its roots. The soil in their reach holds {told.taw_mm:.0f} "
        "mm for plants.",
    )


def _stress(known: pd.DataFrame, whole: bool, days: int) -> str:
    stressed = known[known["ks"] < 1]
    if stressed.empty:
        rest = "" if whole else f"; of the other {days - len(known)} of the season nothing can be said"
        return f"none of {counted(len(known), 'day')} known was short of water{rest}."
    worst = stressed.sort_values("ks", kind="stable").iloc[0]
    short = (stressed["etc_mm"] - stressed["et_mm"]).sum()
    return (
        f"{len(stressed)} of {counted(len(known), 'day')} known were short of water, from "
        f"{stressed['on'].iloc[0]:%Y-%m-%d} to {stressed['on'].iloc[-1]:%Y-%m-%d}; the crop drew {short:.0f} mm less "
        f"than it would have. The worst was {worst['on']:%Y-%m-%d}, at {worst['ks']:.0%} of its full "
        "evapotranspiration."
    )


def _watering(told: Told, known: pd.DataFrame, whole: bool) -> str:
    extra = known[known["extra_watering_mm"] > 0]
    if extra.empty:
        return "No further watering was needed." if whole else "On these days no further watering was needed."
    depth = extra["extra_watering_mm"].sum()
    ground = told.grown.ground_m2
    litres = "" if ground is None else f", {depth * ground:.0f} litres over {ground:g} m2"
    return (
        f"At least {depth:.0f} mm more{litres}, the first by the morning of {extra['on'].iloc[0]:%Y-%m-%d}, would have "
        "kept it from stress on these days."
    )


def water_cautions(told: Told, table: pd.DataFrame) -> tuple[str, ...]:
    """What stands against taking the balance at face value."""
    return (
        *_of_the_days(told, table), *_of_the_watering(told), *_of_the_cover(told, table), *_of_the_plants(told),
        *_of_the_soil(told),
    )  # fmt: skip


def _of_the_days(told: Told, table: pd.DataFrame) -> list[str]:
    found = []
    missing = table[table["missing"].notna()]
    if not missing.empty:
        found.append(
            f"The balance of {len(missing)} of {counted(len(table), 'day')} is not known, from "
            f"{missing['on'].iloc[0]:%Y-%m-%d} on; it goes on once the soil must be full. {_lacking(missing)}"
            f"{_later(missing)}"
        )
    by_temperature = int((table["et0_method"] == HARGREAVES).sum())
    if by_temperature:
        why = "the height of the site is not recorded" if told.site.elevation_m is None else (
            "humidity, wind or radiation is not recorded"
        )  # fmt: skip
        found.append(
            f"On {counted(by_temperature, 'day')} evapotranspiration goes by temperatures alone (Hargreaves), since "
            f"{why}; single days of it can be far out."
        )
    return found


def _lacking(missing: pd.DataFrame) -> str:
    """The few days to write down so that the others become known."""
    lacking = missing[missing["missing"] != UNKNOWN_BEFORE]
    days = named_few([f"{day:%Y-%m-%d}" for day in lacking["on"]])
    why = dict.fromkeys(why for reasons in lacking["missing"] for why in reasons.split("; "))
    return (
        f"What stops it is missing on {counted(len(lacking), 'day')} only, {days} ({'; '.join(why)}): write "
        "that down if it can be found."
    )


def _later(missing: pd.DataFrame) -> str:
    """Where it could begin anew, and what that would take for granted."""
    whole = missing[missing["missing"] == UNKNOWN_BEFORE]
    if whole.empty:
        return ""
    # days in a row have the same distance from their place in the table
    stretch = whole["on"] - pd.to_timedelta(range(len(whole)), unit="D")
    longest = whole[stretch == stretch.mode().iloc[0]]["on"]
    return (
        f" Otherwise the longest stretch with nothing missing runs from {longest.iloc[0]:%Y-%m-%d} to "
        f"{longest.iloc[-1]:%Y-%m-%d}: if rain or watering had filled the soil by the first of these days, give that "
        "day as since."
    )


def _of_the_watering(told: Told) -> list[str]:
    found = []
    if not told.given.anywhere:
        found.append(
            "No watering is written down in the garden in this time. None is taken to have been given, which may not "
            "be so."
        )
    if told.given.without_depth:
        found.append(
            f"{counted(told.given.without_depth, 'watering')} in litres cannot be turned to mm, as neither the area of "
            "the bed nor the ground of all its plants is recorded."
        )
    if told.given.vague:
        found.append(f"{counted(told.given.vague, 'watering')} dated by a span taken on its middle day.")
    return found


def _of_the_cover(told: Told, table: pd.DataFrame) -> list[str]:
    under = [cover for cover in table["cover"].unique() if cover != "open"]
    if not under:
        return []
    parts = [f"{cover}: {told.covering.rain[cover]:g} of the rain, {told.covering.et[cover]:g} of the "
             "evapotranspiration outside" for cover in under]  # fmt: skip
    return [
        f"Under cover shares of what is measured outside are taken ({'; '.join(parts)}); give cover_rain and cover_et "
        "for others. Covers over single labels are not looked at."
    ]


def _of_the_plants(told: Told) -> list[str]:
    grown = told.grown
    found = [
        f"The stages are counted from {grown.begins_on:%Y-%m-%d}, by which half the plants had begun there; mid-season "
        + (
            "begins by the days of the profile, for first flowers are not recorded of half of them."
            if grown.flowers_on is None
            else f"from {grown.flowers_on:%Y-%m-%d}, by which half had flowered."
        )
    ]
    if grown.unknown:
        found.append(f"{counted(grown.unknown, 'label')} left out of that, whose beginning is not recorded.")
    if grown.others:
        found.append(f"{', '.join(grown.others)} drew on the same bed, which is not reckoned.")
    start = "full, at field capacity," if told.start_mm == 0 else f"with {told.start_mm:g} mm lacking"
    found.append(
        f"The soil is taken to begin {start}, and the roots to reach {told.figures.root_depth_m:g} m all season: a "
        "seedling reaches less, and is short of water sooner than is shown."
    )
    if told.figures.sources:
        found.append(
            f"Figures of the crop by its profile: {_each_once(told.figures.sources)}. A crop trained high on poles "
            "draws more than one of the usual height: then give kc."
        )
    return found


def _each_once(sources: Sequence[str]) -> str:
    """The sources without repeating what several of them say, their assumptions last."""
    parts = dict.fromkeys(part for source in sources for part in source.split("; "))
    return "; ".join(sorted(parts, key=lambda part: part.startswith("that ")))


def _of_the_soil(told: Told) -> list[str]:
    found = []
    if told.soil.name != "given":
        found.append(
            f"What {told.soil.name} holds is the middle of a wide range ({told.soil.theta_fc:g} to "
            f"{told.soil.theta_wp:g} m3 per m3); compost and stones change it."
        )
    if told.place.container is not None:
        found.append("The balance is for open soil; a pot holds less than its depth says, and drains at once.")
    return found
