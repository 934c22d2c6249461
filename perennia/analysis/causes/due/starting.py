"""Roots to start: roots in store whose time to be planted again is near."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from perennia.analysis.causes.due.frosts import FrostDay, Frosts
from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.own_days import OwnDays, growing_year, own_days
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, listed
from perennia.analysis.units import Row
from perennia.checking.words import counted

_REPLANTED = (
    'select plant, crop, "on" from life where event = \'replanted\' and not inferred and on_from is not null '
    "and on_to - on_from <= 13 order by plant, ordinal"
)
_AHEAD_DAYS = 28
"""Roots are started into growth under cover four weeks before they go out: common practice, no source."""


def roots_to_start(today: Today, frosts: dict[str | None, Frosts]) -> Found:
    """One matter a crop, site and growing year in which they were put away: its roots out of the ground, once four
    weeks are left to the day they go out."""
    resting: dict[tuple[str | None, str | None, int], list[Row]] = defaultdict(list)
    for row in today.in_state("lifted", "stored"):
        spring = frosts[row["site"]].spring
        # lifted after the frosts of this spring, it waits for the next
        if spring is None or row["state_since"] < spring.on:
            put_away_in = growing_year(row["state_since"], str(row["season_starts"]))
            resting[row["site"], row["crop"], put_away_in].append(row)
    if not resting:
        return Found()
    replanted = today.rows(_REPLANTED)
    found, lacking = [], 0
    for (site, crop, _), rows in resting.items():
        put_away = max(row["state_since"] for row in rows)
        own = _own(today, rows[0], [row["on"] for row in replanted if row["crop"] == crop], put_away)
        frost = frosts[site].spring
        if own is None and frost is None:
            lacking += len(rows)
            continue
        by = _out_by(own, frost, put_away)
        if today.day >= by - timedelta(days=_AHEAD_DAYS):
            found.append(_matter(rows, own, frost, by))
    return Found(tuple(found), () if not lacking else (
        f"{counted(lacking, 'root')} out of the ground: neither an earlier replanting of the crop nor the last frosts "
        "of ten springs are on record, so when to start them is not known.",
    ))  # fmt: skip


def _own(today: Today, row: Row, days: Sequence[date], put_away: date) -> OwnDays | None:
    """The days on which the crop was replanted before, in the first season in which they come after it was lifted."""
    earlier = [day for day in days if day <= put_away]
    season = today.season(row) - 1
    while (own := own_days(earlier, season, str(row["season_starts"]))) is not None and own.last <= put_away:
        season += 1
    return own


def _out_by(own: OwnDays | None, frost: FrostDay | None, put_away: date) -> date:
    """The day on which they go out: after the last frost where its dates are known, else as in earlier seasons."""
    if frost is None:
        return own.middle if own is not None else put_away
    return frost.on


def _matter(rows: Sequence[Row], own: OwnDays | None, frost: FrostDay | None, by: date) -> Matter:
    labels = tuple(str(row["label"]) for row in rows)
    basis = [
        *([] if frost is None else [f"{frost.why}."]),
        *([] if own is None else [own.told("In earlier seasons roots of it went out") + "."]),
    ]  # fmt: skip
    return Matter(
        kind="starting", site=rows[0]["site"], place=beds_of(row["box"] for row in rows), labels=labels,
        crop=rows[0]["crop"], since=by - timedelta(days=_AHEAD_DAYS), by=by,
        why=(
            f"{rows[0]['crop']}: {counted(len(rows), 'root')} out of the ground, {listed(labels)}. {' '.join(basis)} "
            f"Four weeks under cover before that is common practice, no source."
        ),
        do="Look the roots over, start the sound ones, and write it down (event replanted, column bed), or "
           "which are dead (event died).",
    )  # fmt: skip
