"""The frost to reckon with at a site: the first of its autumn and the last of its spring, and where that is known from.

A date comes from the minima of ten years and the risk taken; without them the first frost of autumn comes from those
that the books say took tops in earlier years. Without either there is none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import attrs

from perennia.analysis.causes.due.own_days import first_day, growing_year, own_days
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import day_in_year
from perennia.analysis.causes.warmth.frost_dates import frost_dates
from perennia.analysis.units import Row
from perennia.checking.words import counted
from perennia.errors import AnalysisError

_HARMED = (
    "select plants.site, life.\"on\" from life join plants using (plant) where life.event = 'died_back' "
    "and lower(life.cause) = 'frost' and life.on_to - life.on_from <= 13 "
    "union all select coalesce(plants.site, beds.site) as site, care.on_to as \"on\" from care "
    "left join plants using (plant) left join beds on beds.bed = care.bed "
    "where care.event = 'damage' and lower(care.cause) = 'frost' and care.on_to - care.on_from <= 13 order by 2, 1"
)
_YEAR_BEGINS = {False: "01-01", True: "07-01"}
_AUTUMN_FROM_DAYS = 181
"""Days from the first of a frost year on, after which its autumn half begins."""


@attrs.frozen
class FrostDay:
    """A day to reckon with frost from, or until, in the year asked about. came: it is this year's own, on record."""

    on: date
    why: str
    came: bool = False


@attrs.frozen
class Frosts:
    """The frosts of a site about the day asked. autumn_from: the first day of the autumn half of its frost year, None
    where nobody knows its hemisphere. autumn, spring: the coming ones, None without a basis; lacking: why."""

    autumn_from: date | None
    autumn: FrostDay | None
    spring: FrostDay | None
    lacking: str


def frosts_of(today: Today) -> dict[str | None, Frosts]:
    """The frosts of every site, and of plants of no known site under None."""
    harmed = today.rows(_HARMED) if today.standing else []
    sites = sorted({str(row["site"]) for row in today.standing if row["site"] is not None})
    found: dict[str | None, Frosts] = {
        site: _frosts(today, site, [row for row in harmed if row["site"] == site]) for site in sites
    }
    found[None] = Frosts(None, None, None, "their site is not recorded")
    return found


def in_autumn(today: Today, frosts: Frosts) -> bool:
    """Whether the day lies in the autumn half of the frost year, or nobody knows which half that is."""
    return frosts.autumn_from is None or today.day >= frosts.autumn_from


def without_frost(
    plants: Mapping[str | None, int], frosts: Mapping[str | None, Frosts], noun: str, which: str, so: str
) -> list[str]:
    """Plants, by site, of which no frost can be reckoned with, counted in sentences: those without minima or earlier
    frosts together, those of a site nobody can place by why. noun and which: what they are, so: what is not known."""
    placed = sum(n for site, n in plants.items() if frosts[site].autumn_from is not None)
    told = [] if not placed else [
        f"{counted(placed, noun)} {which}: neither ten years of minima nor frost in earlier autumns is on record at "
        f"their site, so {so}."
    ]  # fmt: skip
    return told + [
        f"{counted(n, noun)} {which}: {frosts[site].lacking}, so {so}." for site, n in plants.items()
        if frosts[site].autumn_from is None
    ]  # fmt: skip


def _frosts(today: Today, site: str, harmed: Sequence[Row]) -> Frosts:
    south = today.south(site)
    if south is None:
        return Frosts(None, None, None, f"{site} has no latitude")
    starts = _YEAR_BEGINS[south]
    year = growing_year(today.day, starts)
    autumn_from = first_day(year, starts) + timedelta(days=_AUTUMN_FROM_DAYS)
    plant_out, lift_by, lacking = _by_weather(today, site)
    spring_year = year if today.day < autumn_from else year + 1
    spring = None if plant_out is None else FrostDay(
        _in_year(plant_out, spring_year, starts),
        f"After {day_in_year(_in_year(plant_out, spring_year, starts) - timedelta(days=1))} the last frost of spring "
        f"is still to come in {today.frost_risk:.0%} of years (minima of {site})",
    )  # fmt: skip
    days = [row["on"] for row in harmed]
    return Frosts(autumn_from, _autumn(today, site, days, autumn_from, year, starts, lift_by), spring, lacking)


def _autumn(
    today: Today, site: str, days: Sequence[date], autumn_from: date, year: int, starts: str, lift_by: str | None
) -> FrostDay | None:  # fmt: skip
    now = [day for day in days if day >= autumn_from]
    if now:
        return FrostDay(min(now), f"Frost took tops here on {min(now)} (records)", came=True)
    if lift_by is not None:
        on = _in_year(lift_by, year, starts)
        why = f"In {today.frost_risk:.0%} of years the first frost of autumn has come by {day_in_year(on)}"
        return FrostDay(on, f"{why} (minima of {site})")
    begins = first_day(year, starts)
    firsts: dict[int, date] = {}
    for day in days:
        of = growing_year(day, starts)
        if day < begins and (day - first_day(of, starts)).days >= _AUTUMN_FROM_DAYS:
            firsts[of] = min(firsts.get(of, day), day)
    own = own_days(firsts.values(), year, starts, earliest=0)
    if own is None:
        return None
    return FrostDay(own.first, own.told("Here frost first took tops") + "; fewer than ten years of minima are recorded")


def _by_weather(today: Today, site: str) -> tuple[str | None, str | None, str]:
    """Month and day from which, and until which, frost is to be reckoned with at the risk; why there is none."""
    try:
        found = frost_dates(today.source, site, risk=today.frost_risk)
    except AnalysisError as error:
        return None, None, str(error)
    if found.plant_out_from is None and found.lift_by is None:
        return None, None, f"{site} has minima of {found.n} years that count, and it takes ten"
    return found.plant_out_from, found.lift_by, ""


def _in_year(month_day: str, year: int, starts: str) -> date:
    """The day of that name in a frost year."""
    month, day = (int(part) for part in month_day.split("-"))
    inside = date(year, month, day)
    return inside if growing_year(inside, starts) == year else date(year + 1, month, day)
