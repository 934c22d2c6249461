"""Lack of water by the daily balance of the beds, and what set before and after its days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from perennia.analysis.causes.shortfall.asked import UNDATED, Asked
from perennia.analysis.causes.shortfall.evidence import Evidence, by_opening_day
from perennia.analysis.causes.water.soils import soil_of
from perennia.analysis.causes.water.water_balance import WaterBalance, water_balance
from perennia.checking.words import counted
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

AROUND_DAYS = 7
"""Days before and after its opening on which lack of water may cost a flower: from late bud to young pod (own rule, no
source)."""


def water_evidence(source: Source, asked: Asked, soil: str | None, since: date | None) -> Evidence:
    """Days on which the root zone held plants back, by FAO-56, within a week of flowers opening."""
    if soil is not None:
        # a texture that is in no table is a slip of the asker, and no gap in the records
        soil_of(soil, None, None, asked.name)
    if not asked.beds:
        return Evidence("not recorded", unknown=("their bed is not recorded",))
    if asked.first is None or asked.last is None:
        return Evidence("not recorded", unknown=(asked.days_from,))
    dry: set[date] = set()
    missing: list[str] = []
    span = _days(asked.first - timedelta(AROUND_DAYS), asked.last + timedelta(AROUND_DAYS))
    known: set[date] = set()
    for bed in asked.beds:
        try:
            balance = water_balance(source, bed, asked.season, crop=asked.crop, soil=soil, since=since)
        except AnalysisError as why:
            missing.append(f"{bed}: {why}")
            continue
        ours = _stressed(balance)
        dry |= ours & span
        known |= _known(balance) & span
        lacking = len(span - _known(balance))
        if lacking:
            days = f"{counted(lacking, 'day')} of {len(span)} about flowering"
            missing.append(f"{bed}: the balance is not known on {days}")
    if not asked.dated:
        missing.append(UNDATED)
    if not known:
        return Evidence("not recorded", unknown=tuple(missing))
    hit = {day for day in asked.flowering if _days(day - timedelta(AROUND_DAYS), day + timedelta(AROUND_DAYS)) & dry}
    if not dry:
        text = f"the root zone held them back on none of {counted(len(known), 'day')} known about flowering (FAO-56)"
        return Evidence("in part" if missing else "not seen", told_against=(text,), unknown=tuple(missing))
    split = by_opening_day(asked, hit)
    when = f"{counted(len(dry), 'day')} from {min(dry)} to {max(dry)}"
    text = f"{when} with too little water in the root zone (Ks below 1, FAO-56)"
    if split.there + split.elsewhere:
        text += f"; {split.words(f'opened within {AROUND_DAYS} days of them', 'opened at other times')}"
    if split.contrast == "no fewer set":
        return Evidence("seen", split.contrast, (), (text,), tuple(missing))
    return Evidence("seen", split.contrast, (text,), (), tuple(missing), frozenset(hit))


def _stressed(balance: WaterBalance) -> set[date]:
    table = balance.table
    return {day.date() for day in table.loc[(table["ks"] < 1).fillna(False), "on"]}


def _known(balance: WaterBalance) -> set[date]:
    return {day.date() for day in balance.table.loc[balance.table["missing"].isna(), "on"]}


def _days(first: date, last: date) -> set[date]:
    return {first + timedelta(n) for n in range((last - first).days + 1)}
