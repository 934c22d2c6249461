"""What a crop profile is made of: figures with their sources, cautions, and what is refused in them."""

from __future__ import annotations

import math
import re
from datetime import date
from typing import Literal

import attrs
from attrs import field, validators

_YEAR_DAYS = 366
# fields of which the first may not be above the second
_ORDERED = (
    ("base_temperature_c", "ceiling_temperature_c"),
    ("storage_min_c", "storage_max_c"),
    ("setting_night_min_c", "setting_night_max_c"),
    ("setting_share_min", "setting_share_max"),
    ("root_depth_min_m", "root_depth_max_m"),
    ("grams_per_plant_day_max", "grams_per_plant_season_max"),
    ("grams_per_plant_season_usual_min", "grams_per_plant_season_usual_max"),
    ("grams_per_plant_season_usual_max", "grams_per_plant_season_max"),
    ("count_per_plant_season_usual_min", "count_per_plant_season_usual_max"),
    ("count_per_plant_season_usual_max", "count_per_plant_season_max"),
    ("mean_unit_weight_min_g", "mean_unit_weight_max_g"),
)


def _stated(instance: object, attribute: attrs.Attribute[str], value: str) -> None:
    if not value.strip():
        raise ValueError(f"a {type(instance).__name__} of a crop profile must state its {attribute.name}")


def _named(instance: object, attribute: attrs.Attribute[tuple[str, ...]], value: tuple[str, ...]) -> None:
    if not value or not all(name.strip() for name in value):
        raise ValueError(f'{attribute.name} must hold at least one name and no empty one, as in ["rhubarb"]')


def _finite(instance: object, attribute: attrs.Attribute[float], value: float) -> None:
    if not math.isfinite(value):
        raise ValueError(f"{attribute.name} must be a finite number, not {value}")


def _month_day(instance: object, attribute: attrs.Attribute[str], value: str) -> None:
    wrong = f"{attribute.name} must be a month and day such as 04-01, not {value!r}"
    # ISO 8601 has weeks as well
    if re.fullmatch("[0-9]{2}-[0-9]{2}", value) is None:
        raise ValueError(wrong)
    try:
        # a year that is not a leap year, as no season can start on its extra day
        date.fromisoformat(f"2001-{value}")
    except ValueError:
        raise ValueError(wrong) from None


@attrs.frozen
class Figure:
    """A figure and where it comes from; its unit is in the name of the profile's field."""

    value: float = field(validator=_finite)
    source: str = field(validator=_stated)


@attrs.frozen
class MonthDay:
    """A day of the year, month-day such as 06-15, and where it comes from."""

    value: str = field(validator=_month_day)
    source: str = field(validator=_stated)


@attrs.frozen
class StageCoefficients:
    """Crop coefficients, without unit, of the initial and mid-season stages and of the end of the late season."""

    initial: Figure
    mid: Figure
    end: Figure


@attrs.frozen
class StageDays:
    """How many days each of the four stages of a season lasts."""

    initial: Figure
    development: Figure
    mid: Figure
    late: Figure


@attrs.frozen
class Caution:
    """What can hurt someone who grows or eats the crop, and who says so."""

    text: str = field(validator=_stated)
    source: str = field(validator=_stated)


@attrs.frozen(kw_only=True)
class CropProfile:
    """What is usual for one crop. A figure that is missing is not looked at, and nothing is put in its place.

    harvest_unit is how the trade states its yield, grams or pieces; harvest_noun names the pieces.

    Calendar. usual_picking_gap_days is the interval a season's first picking is taken to have gathered; a crop lifted
    once has none. A sowing up to sow_ahead_days before a season begins belongs to that season. season_starts
    overrides the site's, whatever its hemisphere. first_crop_season is the season, 1 for the one in which
    it was begun, that first gives a crop worth having; productive_seasons_max the number of seasons after which a plant
    is seldom worth keeping. latest_regrowth is the day, as it falls north of the equator, by which a living plant has
    shown itself.

    Temperature. base_temperature_c and ceiling_temperature_c are those of degree-days. storage_min_c and storage_max_c
    are for what is kept over winter: the lifted organ, or the plant in its pot. setting_night_min_c,
    setting_night_max_c and setting_day_max_c are the lowest and highest temperature of a night and the highest of a day
    beyond which fewer flowers set.

    Setting. setting_share_min and setting_share_max are the range of flowers, as a part of 1, that usually set.

    Plausible limits, of a single plant: what lies outside is doubted, not refused. The maxima of a day and a season
    are far out; the usual minimum and maximum hold most established plants; mean_unit_weight is the weight of a
    picking over its pieces.

    Water, after FAO Irrigation and Drainage Paper 56 (1998), its tables read in open copies: crop_coefficient
    (single) and basal_crop_coefficient, for a standard climate; root_depth_min_m and root_depth_max_m, the range of the
    greatest rooting depth; depletion_fraction, of the water a soil can hold for plants, at about 5 mm of crop
    evapotranspiration a day; stage_days.

    Seed. seed_viability_years is the cautious end of its range, isolation_m the distance to the next of its kind.
    """

    crop: str = field(validator=_stated)
    common_names: tuple[str, ...] = field(validator=_named)
    harvest_unit: Literal["g", "count"] = field(validator=validators.in_(("g", "count")))
    harvest_noun: str = field(validator=_stated)
    usual_picking_gap_days: Figure | None = None
    sow_ahead_days: Figure | None = None
    season_starts: MonthDay | None = None
    first_crop_season: Figure | None = None
    productive_seasons_max: Figure | None = None
    latest_regrowth: MonthDay | None = None
    base_temperature_c: Figure | None = None
    ceiling_temperature_c: Figure | None = None
    storage_min_c: Figure | None = None
    storage_max_c: Figure | None = None
    setting_night_min_c: Figure | None = None
    setting_night_max_c: Figure | None = None
    setting_day_max_c: Figure | None = None
    setting_share_min: Figure | None = None
    setting_share_max: Figure | None = None
    grams_per_plant_day_max: Figure | None = None
    grams_per_plant_season_max: Figure | None = None
    grams_per_plant_season_usual_min: Figure | None = None
    grams_per_plant_season_usual_max: Figure | None = None
    count_per_plant_season_max: Figure | None = None
    count_per_plant_season_usual_min: Figure | None = None
    count_per_plant_season_usual_max: Figure | None = None
    mean_unit_weight_min_g: Figure | None = None
    mean_unit_weight_max_g: Figure | None = None
    crop_coefficient: StageCoefficients | None = None
    basal_crop_coefficient: StageCoefficients | None = None
    root_depth_min_m: Figure | None = None
    root_depth_max_m: Figure | None = None
    depletion_fraction: Figure | None = None
    stage_days: StageDays | None = None
    seed_viability_years: Figure | None = None
    isolation_m: Figure | None = None
    cautions: tuple[Caution, ...] = ()

    def __attrs_post_init__(self) -> None:
        """Refuses figures that cannot be so, alone or beside another."""
        figures = dict(figures_of(self))
        for name, figure in figures.items():
            # only a temperature can be below nothing
            if figure.value < 0 and not name.endswith("_c"):
                raise ValueError(f"{name} must be 0 or more, not {figure.value:g}")
        for name in ("first_crop_season", "usual_picking_gap_days", "productive_seasons_max"):
            if name in figures and figures[name].value < 1:
                raise ValueError(f"{name} must be 1 or more, not {figures[name].value:g}")
        for name in ("usual_picking_gap_days", "sow_ahead_days"):
            if name in figures and not (float(figures[name].value).is_integer() and figures[name].value <= _YEAR_DAYS):
                raise ValueError(f"{name} must be whole days, at most {_YEAR_DAYS}, not {figures[name].value:g}")
        for name in ("depletion_fraction", "setting_share_min", "setting_share_max"):
            if name in figures and figures[name].value > 1:
                raise ValueError(f"{name} must be a part of 1, such as 0.45")
        for low, high in _ORDERED:
            if low in figures and high in figures and figures[low].value > figures[high].value:
                raise ValueError(
                    f"{low} ({figures[low].value:g}) is above {high} ({figures[high].value:g}); it must not be"
                )


def figures_of(entry: CropProfile) -> list[tuple[str, Figure]]:
    """Every figure of a profile by the name of its field; those of stages as field.stage, such as stage_days.mid."""
    found: list[tuple[str, Figure]] = []
    for name, value in attrs.asdict(entry, recurse=False).items():
        if isinstance(value, Figure):
            found.append((name, value))
        elif isinstance(value, StageCoefficients | StageDays):
            found += [(f"{name}.{stage}", figure) for stage, figure in attrs.asdict(value, recurse=False).items()]
    return found
