"""Keepers to mark before frost kills the tops: once they are gone nothing tells a good plant from a poor one."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from perennia.analysis.causes.due.frosts import FrostDay, Frosts, in_autumn, without_frost
from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.tender import COMPOST, KEEP, marks, mulched_on, ranked, why_tender
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, listed
from perennia.analysis.decisions.keeping.keep_rows import YES
from perennia.analysis.units import Row
from perennia.checking.words import counted

_AHEAD_DAYS = 28
"""Keepers are marked from four weeks before the frost on: our own choice, for they are still picked until then."""


def keepers(today: Today, frosts: dict[str | None, Frosts]) -> Found:
    """One matter a crop and site: its plants in growth that nobody has marked this season or mulched this autumn."""
    growing = [row for row in today.in_state("growing") if in_autumn(today, frosts[row["site"]])]
    if not growing:
        return Found()
    marked, mulched = marks(today), mulched_on(today)
    open_: dict[tuple[str | None, str], list[Row]] = defaultdict(list)
    for row in growing:
        # a mulch of last winter, taken off or not, says nothing of the winter to come
        stays = mulched.get(row["plant"], date.min) >= (frosts[row["site"]].autumn_from or date.max)
        if row["crop"] is not None and row["plant"] not in marked and not stays:
            open_[row["site"], str(row["crop"])].append(row)
    found: list[Matter] = []
    lacking: dict[str | None, int] = defaultdict(int)
    for (site, crop), rows in open_.items():
        autumn = frosts[site].autumn
        if why_tender(today, crop) is None:
            continue
        if autumn is None:
            lacking[site] += len(rows)
        elif today.day >= autumn.on - timedelta(days=_AHEAD_DAYS):
            found.append(_matter(today, rows, autumn, marked))
    return Found(tuple(found), tuple(without_frost(
        lacking, frosts, "plant", "to choose keepers among", "by when frost kills the tops is not known"
    )))  # fmt: skip


def _matter(today: Today, rows: list[Row], autumn: FrostDay, marked: dict[str, str]) -> Matter:
    order = ranked(today, rows, marked)
    best = order.labels(YES)
    named = f" (the first: {listed(best)})" if best else ""
    return Matter(
        kind="keepers", site=rows[0]["site"], place=beds_of(row["bed"] for row in rows), labels=tuple(order.labels()),
        crop=rows[0]["crop"], since=autumn.on - timedelta(days=_AHEAD_DAYS), by=autumn.on,
        why=(
            f"{rows[0]['crop']}: {counted(len(rows), 'plant')} in growth not marked to keep or to compost, "
            f"{order.told()}{named}. {autumn.why}."
        ),
        do=f"Mark them while the tops tell them apart: write it down (event noted, column what: {KEEP} or "
           f"{COMPOST}).",
    )  # fmt: skip
