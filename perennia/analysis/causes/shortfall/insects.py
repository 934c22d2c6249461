"""Visits, robbing and pollination by hand: what the records say of flowers that nothing pollinated."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import care_rows, each_once, reached, to_the_day, when
from perennia.analysis.causes.shortfall.closed_covers import shut_days
from perennia.analysis.causes.shortfall.evidence import Evidence, Seen, Set, by_flower, by_opening_day
from perennia.analysis.causes.shortfall.hand_pollination import hand_pollination
from perennia.analysis.units import Row
from perennia.checking.words import counted, named_few

if TYPE_CHECKING:
    from perennia.source import Source

_WATCHED_EVERY_DAYS = 7
"""Days between watches up to which the flowering is taken as watched (own rule, no source)."""
_ACTIVE_HOURS = 8
"""Hours of a day in which the visits seen are taken to have gone on (own rule, no source)."""


def visits_evidence(source: Source, asked: Asked) -> Evidence:
    """Too few visits: watches without any, covers over open flowers, and what pollination by hand did."""
    watches = _watches(source, asked)
    shut, unknown = shut_days(source, asked)
    parts = [part for part in (
        _watched(asked, watches), _shut(asked, shut), hand_pollination(source, asked),
    ) if part is not None]  # fmt: skip
    whole = bool(watches) and _watched_through(asked, watches)
    if not watches:
        unknown = (*unknown, "no watch for visitors is on record")
    elif not whole:
        unknown = (*unknown, "most days of flowering, or some of the plants, were not watched")
    elif not _visits_enough(asked, watches):
        unknown = (*unknown, f"at that rate fewer visits came in {_ACTIVE_HOURS} hours than flowers opened in a day")
        whole = False
    return Evidence(
        _seen(parts, whole and not shut), _contrast(parts), tuple(text for part in parts for text in part.told_for),
        tuple(text for part in parts for text in part.told_against), unknown,
    )  # fmt: skip


def _seen(parts: list[Evidence], whole: bool) -> Seen:
    """Seen where any record shows it; not seen where pollination by hand did not help, or where visitors enough came
    whenever flowers were watched, and they were watched throughout."""
    if any(part.seen == "seen" for part in parts):
        return "seen"
    if any(part.seen == "not seen" for part in parts) or (parts and whole):
        return "not seen"
    return "in part" if parts else "not recorded"


def _contrast(parts: list[Evidence]) -> Set:
    found = {part.contrast for part in parts}
    return next((one for one in ("fewer set", "no fewer set") if one in found), "no contrast")


def _watched(asked: Asked, watches: list[Row]) -> Evidence | None:
    """What watching showed: visits in all, and set on days on which nobody came against days on which somebody did."""
    rows = each_once(watches)
    if not rows:
        return None
    total, minutes = _seen_in(rows)
    watched = "one watch" if len(rows) == 1 else f"{len(rows)} watches"
    words = f"{counted(total, 'visit')} seen in {minutes:g} minutes of {watched}"
    if total == 0:
        return Evidence("seen", told_for=(words,))
    words += "; how many are enough was not found published"
    dated = [row for row in rows if to_the_day(row)]
    came = {day_of(row["on_to"]) for row in dated if row["visits"] > 0}
    empty = {day_of(row["on_to"]) for row in dated} - came
    if not empty:
        return Evidence("in part", told_against=(words,))
    split = by_opening_day(asked, empty, came)
    none = f"nobody came on {counted(len(empty), 'watched day')}, {_listed(empty)}"
    if split.there and split.elsewhere:
        none += f"; {split.words('opened on them', 'opened on days with visits')}"
    if split.contrast == "no fewer set":
        return Evidence("in part", split.contrast, (), (words, none))
    return Evidence("seen", split.contrast, (none,), (words,))


def _seen_in(rows: list[Row]) -> tuple[int, float]:
    """Visits of all these watches together, and minutes watched."""
    return sum(int(row["visits"]) for row in rows), sum(float(row["watched_minutes"]) for row in rows)


def _visits_enough(asked: Asked, watches: list[Row]) -> bool:
    """Whether at the rate seen there was a visit for every flower, for a second one adds nothing (Kendall and Smith
    1977)."""
    visits, minutes = _seen_in(each_once(watches))
    plants = reached(asked, watches)
    opened = sum(one.plant in plants and one.opened_on is not None for one in asked.book.flowers) if asked.book else 0
    return visits / minutes * 60 * _ACTIVE_HOURS >= opened / max(len(asked.flowering), 1)


def _shut(asked: Asked, shut: Mapping[str, set[date]]) -> Evidence | None:
    """Set of flowers that opened under a net or fleece against others."""
    if not shut:
        return None
    split = by_flower(asked, lambda one: one.opened_on in shut.get(one.plant, ()))
    days = {day for each in shut.values() for day in each}
    over = "them" if len(shut) == len(asked.plants) else f"{counted(len(shut), 'plant')} of {len(asked.plants)}"
    lay = f"a net or fleece lay over {over} on {counted(len(days), 'day')} of flowering"
    text = f"{lay}, which shuts insects out unless its mesh is wide"
    if split.there and split.elsewhere:
        text += f"; {split.words('opened under it', 'opened in the open')}"
    if split.contrast == "no fewer set":
        return Evidence("in part", split.contrast, (), (text,))
    return Evidence("seen", split.contrast, (text,))


def robbing_evidence(source: Source, asked: Asked) -> Evidence:
    """Robbed flowers: slit at the base, which set no better than unvisited ones."""
    looked = [row for row in _watches(source, asked) if row["robbed"] is not None]
    if not looked:
        return Evidence("not recorded", unknown=("nobody wrote down whether flowers were slit at the base",))
    rows = each_once(looked)
    robbed = [row for row in rows if row["robbed"]]
    flowers = counted(sum(int(row["robbed"]) for row in rows), "flower")
    words = f"{flowers} found robbed at {counted(len(rows), 'look')}"
    if robbed:
        return Evidence("seen", told_for=(f"{words}, {named_few(list(dict.fromkeys(map(when, robbed))))}",))
    if _watched_through(asked, looked):
        return Evidence("not seen", told_against=(words,))
    missing = "most days of flowering, or some of the plants, were not looked at"
    return Evidence("in part", told_against=(words,), unknown=(missing,))


def _watches(source: Source, asked: Asked) -> list[Row]:
    return [row for row in care_rows(source, asked, "visits") if _in_flower(asked, row)]


def _in_flower(asked: Asked, row: Row) -> bool:
    """Whether a record is of the time of flowering; of a span, whether it can be."""
    if asked.first is None or asked.last is None:
        return True
    first = day_of(row["on_from"] or row["on_to"])
    return bool(first <= asked.last + timedelta(1) and asked.first - timedelta(1) <= day_of(row["on_to"]))


def _watched_through(asked: Asked, rows: list[Row]) -> bool:
    """Whether of no plant a stretch of the flowering longer than a week went unwatched."""
    if asked.first is None or asked.last is None or not asked.dated:
        return False
    dated = [row for row in rows if to_the_day(row)]
    for plant in asked.rows:
        ours = [row for row in dated if row["plant"] == plant["plant"] or _is_bed(row, plant["bed"])]
        ends = [asked.first, *sorted({day_of(row["on_to"]) for row in ours}), asked.last]
        if any((later - earlier).days > _WATCHED_EVERY_DAYS for earlier, later in pairwise(ends)):
            return False
    return True


def _is_bed(row: Row, bed: str | None) -> bool:
    return row["bed"] is not None and row["bed"] == bed


def _listed(days: set[date]) -> str:
    return named_few([str(day) for day in sorted(days)])
