"""A day's weather at a site, or inside a covered bed."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.rules import AtLeastOne, ExactlyOne, NotMoreThan, RecordRule


@attrs.frozen(field_transformer=f.enforce)
class Weather(Record):
    """One day at one site or in one bed. Limits are the world's records with a margin, to catch slips of the unit."""

    table: ClassVar[str] = "weather"
    rules: ClassVar[tuple[RecordRule, ...]] = (
        ExactlyOne("site", "bed"),
        AtLeastOne(("t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2")),
        NotMoreThan("t_min_c", "t_max_c"),
    )

    on: date | None = field(converter=f.to_day_or_none, metadata=f.day("the day", required=True))
    site: str | None = field(default=None, kw_only=True, metadata=f.label("the site", required=False))
    bed: str | None = field(default=None, kw_only=True, metadata=f.label("the bed", required=False))
    t_min_c: float | None = field(
        default=None, kw_only=True, metadata=f.number("lowest air temperature", "deg C", minimum=-90, maximum=60)
    )
    t_max_c: float | None = field(
        default=None, kw_only=True, metadata=f.number("highest air temperature", "deg C", minimum=-90, maximum=80)
    )
    rain_mm: float | None = field(
        default=None, kw_only=True, metadata=f.number("rain and melted snow", "mm", maximum=2000)
    )
    rh_pct: float | None = field(
        default=None, kw_only=True, metadata=f.number("mean relative humidity", "%", maximum=100)
    )
    wind_m_s: float | None = field(
        default=None, kw_only=True, metadata=f.number("mean wind at 2 m", "m/s", maximum=120)
    )
    solar_mj_m2: float | None = field(
        default=None, kw_only=True, metadata=f.number("global solar radiation", "MJ/m2", maximum=50)
    )


WEATHER_EVENTS: tuple[type[Record], ...] = (Weather,)
