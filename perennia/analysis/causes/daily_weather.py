"""The weather of a site or a bed, one row a day, days without a record among them."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.units import rows_of
from perennia.checking import arguments
from perennia.errors import AnalysisError, UnknownLabelError

if TYPE_CHECKING:
    from perennia.source import Source

_SITES = "select site, latitude, elevation_m from sites order by site"
_BEDS = "select bed, site, cover, area_m2, container, soil from beds order by bed"
# two readings of one day are of one lowest and one highest temperature, and of one rain read twice
_DAILY = (
    'select "on", min(t_min_c) as t_min_c, max(t_max_c) as t_max_c, max(rain_mm) as rain_mm, avg(rh_pct) as rh_pct, '
    "avg(wind_m_s) as wind_m_s, avg(solar_mj_m2) as solar_mj_m2 from weather "
    "where case when $kind = 'bed' then bed = $name else site = $name end "
    'group by "on" order by "on"'
)
MEASURED = ("t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2")


@attrs.frozen
class SitePlace:
    """A site: latitude in degrees, north positive, and height in m, None where not recorded."""

    site: str
    latitude: float | None
    elevation_m: float | None


@attrs.frozen
class BedPlace:
    """A bed and what is recorded of it."""

    bed: str
    site: str
    cover: str
    area_m2: float | None
    container: str | None
    soil: str | None


def site_named(source: Source, name: object) -> SitePlace:
    """The site of that name. Raises UnknownLabelError, with the sites there are."""
    wanted = arguments.a_name(name, "site")
    rows = rows_of(source.sql(_SITES))
    for row in rows:
        if row["site"] == wanted:
            return SitePlace(**row)
    raise UnknownLabelError(f"{wanted} is no site of this garden; {_listed('sites', [row['site'] for row in rows])}")


def bed_named(source: Source, name: object) -> BedPlace:
    """The bed of that name. Raises UnknownLabelError, with the beds there are."""
    wanted = arguments.a_name(name, "bed")
    rows = rows_of(source.sql(_BEDS))
    for row in rows:
        if row["bed"] == wanted:
            return BedPlace(**row)
    raise UnknownLabelError(f"{wanted} is no bed of this garden; {_listed('beds', [row['bed'] for row in rows])}")


def place_named(source: Source, name: object) -> tuple[SitePlace | None, BedPlace | None]:
    """The site or the bed of that name, one of them None.

    Raises UnknownLabelError where there is neither, AnalysisError where there are both.
    """
    wanted = arguments.a_name(name, "place")
    sites, beds = list(source.sql(_SITES)["site"]), list(source.sql(_BEDS)["bed"])
    is_site, is_bed = wanted in sites, wanted in beds
    if is_site and is_bed:
        raise AnalysisError(f"{wanted} is the name of a site and of a bed; name another place, or rename one of them")
    if not is_site and not is_bed:
        raise UnknownLabelError(
            f"{wanted} is neither a site nor a bed of this garden; {_listed('sites', sites)}; {_listed('beds', beds)}"
        )
    return (site_named(source, wanted), None) if is_site else (None, bed_named(source, wanted))


def daily_weather(source: Source, *, site: str | None = None, bed: str | None = None) -> pd.DataFrame:
    """Every day from the first to the last with a record of that site or bed, indexed by day; MEASURED as columns.

    What was not recorded is nan. Empty where there is no weather of the place.
    """
    kind, name = ("site", site) if bed is None else ("bed", bed)
    frame = source.sql(_DAILY, {"kind": kind, "name": name})
    known = pd.DataFrame(
        {column: frame[column].to_numpy(dtype=float, na_value=float("nan")) for column in MEASURED},
        index=pd.DatetimeIndex(frame["on"], name="on"),
    )
    return known if known.empty else known.reindex(pd.date_range(known.index[0], known.index[-1], name="on", unit="s"))


def days_asked_for(since: object, until: object) -> tuple[date | None, date | None]:
    """The first and last day asked for. Raises AnalysisError where they are in the wrong order."""
    first, last = arguments.a_day(since, "since"), arguments.a_day(until, "until")
    if first is not None and last is not None and first > last:
        raise AnalysisError(f"the days asked for begin on {first}, after they end on {last}")
    return first, last


def between(frame: pd.DataFrame, since: date | None, until: date | None) -> pd.DataFrame:
    """The days from since to until, both included, those beyond the records with nothing known."""
    first = frame.index[0] if since is None else pd.Timestamp(since)
    last = frame.index[-1] if until is None else pd.Timestamp(until)
    return frame.reindex(pd.date_range(first, last, name="on", unit="s"))


def _listed(what: str, names: Collection[str]) -> str:
    return f"its {what} are {', '.join(names)}" if names else f"it has no {what}"
