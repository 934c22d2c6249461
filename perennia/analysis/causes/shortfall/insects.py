"""Visits, robbing and pollination by hand: what the records say of flowers that nothing pollinated."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import care_rows
from perennia.analysis.causes.shortfall.evidence import Evidence, Seen, Set, by_opening_day, by_truss
from perennia.analysis.units import Row
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

_WATCHED_EVERY_DAYS = 7
"""Days between watches up to which the flowering is taken as watched (own rule, no source)."""
_CLOSED = ("fleece", "net")
_HELPED = 0.1
"""Difference in share from which pollination by hand is said to have helped (own rule)."""


def visits_evidence(source: Source, asked: Asked) -> Evidence:
    """Too few visits: watches without any, covers over open flowers, and what pollination by hand did."""
    watches = _watches(source, asked)
    parts = [part for part in (
        _watched(asked, watches), _shut(asked, _shut_days(source, asked)), _by_hand(source, asked),
    ) if part is not None]  # fmt: skip
    whole = bool(watches) and _watched_through(asked, watches)
    unknown: tuple[str, ...] = ()
    if not watches:
        unknown = ("no watch for visitors is on record",)
    elif not whole:
        unknown = ("most days of flowering were not watched",)
    return Evidence(
        _seen(parts, whole), _contrast(parts), tuple(text for part in parts for text in part.told_for),
        tuple(text for part in parts for text in part.told_against), unknown,
    )  # fmt: skip


def _seen(parts: list[Evidence], whole: bool) -> Seen:
    """Seen where any record shows it; not seen where pollination by hand did not help, or where visitors came whenever
    flowers were watched, and they were watched throughout."""
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
    if not watches:
        return None
    total, minutes = sum(int(row["visits"]) for row in watches), sum(float(row["watched_minutes"]) for row in watches)
    watched = "one watch" if len(watches) == 1 else f"{len(watches)} watches"
    words = f"{counted(total, 'visit')} seen in {minutes:g} minutes of {watched}"
    if total == 0:
        return Evidence("seen", told_for=(words,))
    words += "; how many are enough was not found published"
    came = {day_of(row["on_to"]) for row in watches if row["visits"] > 0}
    empty = {day_of(row["on_to"]) for row in watches} - came
    if not empty:
        return Evidence("in part", told_against=(words,))
    split = by_opening_day(asked, empty, came)
    none = f"nobody came on {counted(len(empty), 'watched day')}, {_listed(empty)}"
    if split.there and split.elsewhere:
        none += f"; {split.words('opened on them', 'opened on days with visits')}"
    if split.contrast == "no fewer set":
        return Evidence("in part", split.contrast, (), (words, none))
    return Evidence("seen", split.contrast, (none,), (words,))


def _shut(asked: Asked, days: set[date]) -> Evidence | None:
    """Set of flowers that opened under a net or fleece against others."""
    if not days:
        return None
    split = by_opening_day(asked, days)
    text = f"a net or fleece lay over them on {counted(len(days), 'day')} of flowering, which shuts insects out"
    if split.there and split.elsewhere:
        text += f"; {split.words('opened under it', 'opened in the open')}"
    if split.contrast == "no fewer set":
        return Evidence("in part", split.contrast, (), (text,))
    return Evidence("seen", split.contrast, (text,))


def _by_hand(source: Source, asked: Asked) -> Evidence | None:
    """Set of trusses pollinated by hand against the others, where they are named."""
    named = {
        (str(row["plant"]), str(truss))
        for row in care_rows(source, asked, "hand_pollinated") if row["plant"] is not None
        for truss in (() if row["trusses"] is None else row["trusses"])
    }  # fmt: skip
    split = by_truss(asked, named)
    if not named or split.contrast == "no contrast":
        return None
    more = split.there_set / split.there - split.elsewhere_set / split.elsewhere
    words = split.words("pollinated by hand", "left alone")
    if more > _HELPED:
        return Evidence("seen", "fewer set", (f"{words}: pollination by hand helped",))
    return Evidence("not seen", "no fewer set", (), (f"{words}: pollination by hand did not help",))


def robbing_evidence(source: Source, asked: Asked) -> Evidence:
    """Robbed flowers: slit at the base, which set no better than unvisited ones."""
    looked = [row for row in _watches(source, asked) if row["robbed"] is not None]
    if not looked:
        return Evidence("not recorded", unknown=("nobody wrote down whether flowers were slit at the base",))
    robbed = sum(int(row["robbed"]) for row in looked)
    words = f"{counted(robbed, 'flower')} found robbed at {counted(len(looked), 'look')}"
    if robbed:
        return Evidence("seen", told_for=(f"{words}, on {_listed({day_of(row['on_to']) for row in looked})}",))
    if _watched_through(asked, looked):
        return Evidence("not seen", told_against=(words,))
    return Evidence("in part", told_against=(words,), unknown=("most days of flowering were not looked at",))


def _watches(source: Source, asked: Asked) -> list[Row]:
    return [row for row in care_rows(source, asked, "visits") if _in_flower(asked, row)]


def _in_flower(asked: Asked, row: Row) -> bool:
    if asked.first is None or asked.last is None:
        return True
    return bool(asked.first - timedelta(1) <= day_of(row["on_to"]) <= asked.last + timedelta(1))


def _watched_through(asked: Asked, rows: list[Row]) -> bool:
    """Whether no stretch of the flowering longer than a week went unwatched."""
    if asked.first is None or asked.last is None or asked.days_from != "flowers opened":
        return False
    days = sorted({day_of(row["on_to"]) for row in rows})
    ends = [asked.first, *days, asked.last]
    return all((later - earlier).days <= _WATCHED_EVERY_DAYS for earlier, later in pairwise(ends))


def _shut_days(source: Source, asked: Asked) -> set[date]:
    """Days of flowering on which a net or fleece lay over the beds."""
    if asked.first is None or asked.last is None:
        return set()
    changes = sorted(
        (row for event in ("covered", "uncovered") for row in care_rows(source, asked, event)),
        key=lambda row: (day_of(row["on_to"]), row["event"] == "uncovered"),
    )
    days = [asked.first + timedelta(n) for n in range((asked.last - asked.first).days + 1)]
    shut = set()
    for day in days:
        before = [row for row in changes if day_of(row["on_to"]) <= day]
        if before and before[-1]["event"] == "covered" and before[-1]["cover"] in _CLOSED:
            shut.add(day)
    return shut


def _listed(days: set[date]) -> str:
    ordered = sorted(days)
    shown = ", ".join(str(day) for day in ordered[:4])
    return shown if len(ordered) <= 4 else f"{shown} and {len(ordered) - 4} more"
