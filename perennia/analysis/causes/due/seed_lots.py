"""Old seed lots: seed older than its crop's is counted on, or not tested lately, before it is sown again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.own_days import own_days
from perennia.analysis.causes.due.sowings import sowings_of
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import crop_named
from perennia.analysis.units import Row
from perennia.checking.words import counted

_TESTED_DAYS = 365
"""A germination test says what a lot is worth for a year: our own choice."""
_AHEAD_DAYS = 60
"""Lots are tested in the two months before they are sown: our own choice."""
_LOTS = (
    "with known as ("
    "select plants.crop, plants.cultivar, seed.lot, seed.on_to as saved_on from seed join plants using (plant) "
    "where seed.event = 'seed_saved' "
    "union all select crop, cultivar, lot, null from plants where lot is not null and origin = 'seed') "
    "select lot, max(crop) as crop, max(cultivar) as cultivar, count(distinct crop) as crops, "
    "max(saved_on) as saved_on from known group by lot order by lot"
)
_TESTS = (
    "select lot, on_to as \"on\", sown, germinated from seed where event = 'germination_test' order by lot, on_to, "
    "record_id"
)


def seed_lots(today: Today) -> Found:
    """One matter a lot: the youngest of its cultivar, whose test is old or missing, and every one that is too old."""
    lots, tests, sown = today.rows(_LOTS), _latest(today.rows(_TESTS)), sowings_of(today)
    by_kind: dict[tuple[str, str | None], list[Row]] = defaultdict(list)
    undated: list[str] = []
    for lot in lots:
        if lot["crop"] is None or lot["crops"] > 1:
            continue
        if lot["saved_on"] is None:
            undated.append(str(lot["lot"]))
        else:
            by_kind[str(lot["crop"]), lot["cultivar"]].append(lot)
    found = []
    for (crop, _), several in by_kind.items():
        several.sort(key=lambda lot: (lot["saved_on"], str(lot["lot"])))
        window = _window(today, crop, sown)
        for lot in several:
            matter = _matter(today, lot, lot is several[-1], tests.get(str(lot["lot"])), window)
            if matter is not None:
                found.append(matter)
    return Found(tuple(found), () if not undated else (
        f"{counted(len(undated), 'seed lot')} of which no saving is on record, so how old they are is not known: "
        f"{', '.join(undated)}.",
    ))  # fmt: skip


def _latest(rows: Sequence[Row]) -> dict[str, Row]:
    return {str(row["lot"]): row for row in rows}


def _window(today: Today, crop: str, sown: Sequence[Row]) -> tuple[date | None, date | None, str]:
    """The days on which the crop is sown next, and those in words."""
    rows = [row for row in sown if row["crop"] == crop]
    if not rows:
        return None, None, "It was never sown before, so when it is wanted is not known."
    starts = str(rows[-1]["season_starts"])
    season = min(row["season"] for row in rows)
    while (own := own_days([row["on"] for row in rows], season, starts)) is not None and own.last < today.day:
        season += 1
    return (None, None, "") if own is None else (own.first, own.last, own.told("In earlier seasons it was sown") + ".")


def _matter(
    today: Today, lot: Row, youngest: bool, test: Row | None, window: tuple[date | None, date | None, str]
) -> Matter | None:
    """None where it was tested within the year, is neither old nor the one to be sown, or its time is not near."""
    first, last, when = window
    profile = today.profile(lot["crop"])
    viability = None if profile is None else profile.seed_viability_years
    age = ((last or today.day) - lot["saved_on"]).days / 365.25
    old = viability is not None and age > viability.value
    tested = test is not None and (today.day - test["on"]).days <= _TESTED_DAYS
    if tested or not (youngest or old) or (first is not None and today.day < first - timedelta(days=_AHEAD_DAYS)):
        return None
    counted_on = "" if viability is None else (
        f", and seed of its crop is counted on for {viability.value:g} years (crop profile: {viability.source})"
    )  # fmt: skip
    shown = "never tested" if test is None else (
        f"last tested on {test['on']}, {test['germinated']} of {test['sown']} came up"
    )  # fmt: skip
    return Matter(
        kind="seed lot", place=str(lot["lot"]), crop=lot["crop"], cultivar=lot["cultivar"],
        since=None if first is None else first - timedelta(days=_AHEAD_DAYS), by=last, first=0 if youngest else 1,
        why=(
            f"Lot {lot['lot']} of {crop_named(lot['crop'], lot['cultivar'])}, saved on {lot['saved_on']}"
            f"{', the youngest of its kind' if youngest else ''}, {shown}. It is {age:.1f} years old "
            f"{'today' if last is None else 'when it is sown next'}{counted_on}. {when}"
        ),
        do="Test some of it, and write it down (event germination_test)."
        if youngest else "Test it, or throw it out: no record says whether any is left.",
    )  # fmt: skip
