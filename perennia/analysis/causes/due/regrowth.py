"""Roots not yet regrown: replanted, or wintered where they stand, and without a shoot so far."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.own_days import OwnDays, first_day, own_days
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, day_in_year, listed
from perennia.analysis.units import Row
from perennia.checking.words import counted

_WINTERS = (
    "select plant, season, outcome, regrow_by from root_winters "
    "qualify row_number() over (partition by plant order by season desc) = 1 order by plant"
)
_REPLANTED = (
    'select plant, crop, event, "on", inferred from life '
    "where event in ('replanted', 'planted', 'regrew') and on_from is not null and on_to - on_from <= 13 "
    "order by plant, ordinal"
)
_FEWEST = 3
"""Waits from replanting to regrowth that a garden must show before they are gone by: our own choice."""
_AHEAD_DAYS = 28
"""A profile's latest day is looked ahead to from four weeks before: our own choice."""


@attrs.frozen(eq=False)
class Basis:
    """What the garden's own books say of a crop: days from replanting to regrowth, and days of the year of regrowth."""

    waits: tuple[int, ...]
    regrew: OwnDays | None


def roots_not_regrown(today: Today) -> Found:
    """One matter a crop and site, replanted roots and those wintered in place apart."""
    resting = today.in_state("dormant", "sheltered")
    if not resting:
        return Found()
    winters = {str(row["plant"]): row for row in today.rows(_WINTERS)}
    acts = today.rows(_REPLANTED)
    replanted = _replanted_on(acts)
    waiting: dict[tuple[object, object, bool], list[Row]] = defaultdict(list)
    for row in resting:
        winter = winters.get(str(row["plant"]))
        if winter is None or winter["outcome"] == "survived":
            continue
        if today.day < first_day(int(winter["season"]), str(row["season_starts"])):
            continue
        on = replanted.get(str(row["plant"]))
        again = on is not None and on >= row["state_since"]
        waiting[row["site"], row["crop"], again].append(
            {**row, "replanted_on": on if again else None, "regrow_by": winter["regrow_by"]}
        )
    found, unknown = [], 0
    for (_, _, again), rows in waiting.items():
        matter = _matter(today, rows, _basis(today, acts, rows[0]), again)
        if matter is not None:
            found.append(matter)
        elif rows[0]["regrow_by"] is None and not _known(_basis(today, acts, rows[0]), again):
            unknown += len(rows)
    return Found(tuple(found), () if not unknown else (
        f"{counted(unknown, 'root')} without a shoot yet: neither the profile of the crop nor earlier seasons say when "
        "it should have regrown, so whether it is late is not known.",
    ))  # fmt: skip


def _replanted_on(acts: Sequence[Row]) -> dict[str, date]:
    return {str(row["plant"]): row["on"] for row in acts if row["event"] != "regrew" and not row["inferred"]}


def _basis(today: Today, acts: Sequence[Row], row: Row) -> Basis:
    """Of the crop of a root: every wait so far, and the days of regrowth in the seasons before its own."""
    season = today.season(row)
    begins = first_day(season, str(row["season_starts"]))
    own = [act for act in acts if act["crop"] == row["crop"] and not act["inferred"]]
    set_on: dict[Any, date] = {}
    waits = []
    for act in own:
        if act["event"] != "regrew":
            set_on[act["plant"]] = act["on"]
        elif act["plant"] in set_on:
            waits.append((act["on"] - set_on.pop(act["plant"])).days)
    regrew = [act["on"] for act in own if act["event"] == "regrew" and act["on"] < begins]
    return Basis(tuple(sorted(waits)), own_days(regrew, season, str(row["season_starts"])))


def _known(basis: Basis, again: bool) -> bool:
    return len(basis.waits) >= _FEWEST if again else basis.regrew is not None and basis.regrew.n >= _FEWEST


def _matter(today: Today, rows: Sequence[Row], basis: Basis, again: bool) -> Matter | None:
    """None where it is too early to ask."""
    by = max((row["regrow_by"] for row in rows if row["regrow_by"] is not None), default=None)
    since, own = _since(rows, basis, again)
    if since is None and by is not None:
        since = by - timedelta(days=_AHEAD_DAYS)
    if since is None or today.day < since:
        return None
    labels = tuple(str(row["label"]) for row in rows)
    crop = rows[0]["crop"]
    what = "replanted" if again else "wintered where they stand" if len(rows) > 1 else "wintered where it stands"
    return Matter(
        kind="regrowth", site=rows[0]["site"], place=beds_of(row["bed"] for row in rows), labels=labels, crop=crop,
        since=since, by=by,
        why=f"{crop}: {counted(len(rows), 'root')} {what} without a shoot on record, {listed(labels)}. {own}"
            f"{_latest(today, crop, by)}",
        do="Look, and dig beside a silent one; write down that it grows (event regrew, column shoots), or that it is "
           "dead (event died, column cause).",
    )  # fmt: skip


def _since(rows: Sequence[Row], basis: Basis, again: bool) -> tuple[date | None, str]:
    """The day from which the first of them is late by the garden's own books, and those in words."""
    if again:
        first = min(row["replanted_on"] for row in rows)
        when = f"The first went in on {first}." if len(rows) > 1 else f"It went in on {first}."
        if not _known(basis, again):
            return None, f"{when} Too few waits are on record to say how long it takes here."
        middle = statistics.median_high(basis.waits)
        return first + timedelta(days=middle), (
            f"{when} So far half had regrown {counted(middle, 'day')} after replanting, the last after "
            f"{max(basis.waits)} (n = {len(basis.waits)})."
        )
    if basis.regrew is None or basis.regrew.n < _FEWEST:
        return None, "Too few regrowths are on record to say when it shows here."
    return basis.regrew.middle, basis.regrew.told("Here they showed themselves") + "."


def _latest(today: Today, crop: str | None, by: date | None) -> str:
    profile = today.profile(crop)
    if by is None or profile is None or profile.latest_regrowth is None:
        return " No profile says by when one that lives has shown itself."
    return f" One that lives has shown itself by {day_in_year(by)} (crop profile: {profile.latest_regrowth.source})."
