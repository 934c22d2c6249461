"""Degree-days from the day growth is counted from, along the days of each curve; never over a gap in the weather."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import attrs
import numpy as np
import pandas as pd

from perennia import crops
from perennia.analysis.permutation import Floats, Integers

if TYPE_CHECKING:
    from perennia.source import Source

_DAILY = (
    "select case when bed is null then 'site' else 'bed' end as kind, coalesce(bed, site) as place, crop, \"on\", "
    "degree_days from degree_days where degree_days is not null and list_contains($crops, crop) "
    'order by kind, place, crop, "on"'
)
_Place = tuple[str, str]
"""bed or site, and its name."""
NOT_STARTED = "the day their growth is counted from is not recorded to the day"
BEFORE_START = "they lie before the day growth is counted from"


@attrs.frozen(eq=False)
class Stretch:
    """The days of one curve: first and last day, the day its growth is counted from (None if not recorded), as days
    since 1970, the crop, and the place of most days."""

    first: int
    last: int
    started: int | None
    crop: str
    bed: str | None
    site: str | None


@attrs.frozen(eq=False)
class Sums:
    """Degree-days up to the end of the day before the first and of every day of a stretch, missing as nan; why any is
    missing in words, and the days of growth without both temperatures (days since 1970, in order)."""

    values: Floats
    why_missing: str | None
    weatherless: Integers = attrs.field(factory=lambda: np.zeros(0, dtype=np.int64))


@attrs.frozen(eq=False)
class _Series:
    """Days with both temperatures at one place, in order, and the sum up to and with each, 0 before the first."""

    days: Integers
    up_to: Floats


def degree_day_sums(source: Source, stretches: Sequence[Stretch]) -> list[Sums]:
    """The sums along each stretch: the day after the start is the first that adds, and the first day without both
    temperatures makes all from it on missing.

    A bed with any weather of its own in the time is summed from that alone, another from its site's: the air of a
    glasshouse and that outside are never mixed in one sum.
    """
    daily = source.sql(_DAILY, {"crops": sorted({stretch.crop for stretch in stretches})})
    series = {
        ((str(kind), str(place)), str(crop)): _series(rows)
        for (kind, place, crop), rows in daily.groupby(["kind", "place", "crop"], sort=False)
    }
    return [_sums(stretch, series, source.profiles) for stretch in stretches]


def _sums(
    stretch: Stretch, series: Mapping[tuple[_Place, str], _Series], profiles: Mapping[str, crops.CropProfile]
) -> Sums:
    days = np.arange(stretch.first - 1, stretch.last + 1)
    nothing = np.full(days.size, np.nan)
    if stretch.started is None:
        return Sums(nothing, NOT_STARTED)
    if not has_base(stretch.crop, profiles):
        return Sums(nothing, f"the profile of {stretch.crop} has no base temperature")
    own = ("bed", str(stretch.bed))
    bed, site = (series.get((place, stretch.crop)) for place in (own, ("site", str(stretch.site))))
    if bed is not None and _known(bed, stretch.started, stretch.last):
        return _whole_sums(bed, f"bed {stretch.bed}", stretch.started, days)
    if site is not None:
        return _whole_sums(site, f"site {stretch.site}", stretch.started, days)
    return Sums(nothing, f"no temperatures are recorded of {f'bed {stretch.bed}' if stretch.bed else 'it'} or its site")


def _whole_sums(series: _Series, place: str, started: int, days: Integers) -> Sums:
    sums = _summed(series, started, days)
    if np.isnan(sums[days >= started]).any():
        growth = np.arange(started + 1, days[-1] + 1)
        return Sums(sums, f"the temperatures of {place} are not whole", growth[~np.isin(growth, series.days)])
    return Sums(sums, BEFORE_START if np.isnan(sums[1:]).any() else None)


def has_base(crop: str, profiles: Mapping[str, crops.CropProfile]) -> bool:
    """Whether a profile says from what temperature on the crop grows."""
    profile = crops.profile(crop, profiles)
    return profile is not None and profile.base_temperature_c is not None


def _series(rows: pd.DataFrame) -> _Series:
    days = rows["on"].to_numpy().astype("datetime64[D]").astype(np.int64)
    return _Series(days, np.concatenate([[0.0], np.cumsum(rows["degree_days"].to_numpy(dtype=float))]))


def _known(series: _Series, after: int, up_to: int) -> int:
    """Days with both temperatures after one day and up to another."""
    return int(np.searchsorted(series.days, up_to, "right") - np.searchsorted(series.days, after, "right"))


def _summed(series: _Series, started: int, days: Integers) -> Floats:
    begun = np.searchsorted(series.days, started, "right")
    reached = np.searchsorted(series.days, days, "right")
    whole = (days >= started) & (reached - begun == days - started)
    sums: Floats = np.where(whole, series.up_to[reached] - series.up_to[begun], np.nan)
    return sums
