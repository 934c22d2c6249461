"""The order of lifting before frost: what stands in the open and would not live through it, the best keepers first."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from perennia.analysis.causes.due.frosts import FrostDay, Frosts, in_autumn, without_frost
from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.tender import COMPOST, marks, mulched_on, ranked, why_tender
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, listed
from perennia.analysis.causes.water.covers import RAIN_THROUGH
from perennia.analysis.units import Row
from perennia.checking.words import counted

_AHEAD_DAYS = 14
"""Lifting is looked ahead to from a fortnight before the frost on: our own choice."""


def lifting(today: Today, frosts: dict[str | None, Frosts]) -> Found:
    """One matter a crop and site: its plants in the open, in the order in which they are lifted."""
    near = [row for row in today.in_state("growing", "dormant") if _in_the_way(row, today, frosts[row["site"]])]
    unseen = _unseen(today, frosts)
    if not near:
        return Found((), unseen)
    marked, mulched = marks(today), mulched_on(today)
    standing: dict[tuple[str | None, str], list[Row]] = defaultdict(list)
    lost_sight: dict[str, int] = defaultdict(int)
    for row in near:
        stays = mulched.get(row["plant"], date.min) >= (frosts[row["site"]].autumn_from or date.max)
        if stays or marked.get(str(row["plant"])) == COMPOST or why_tender(today, row["crop"]) is None:
            continue
        if row["bed"] is None:
            lost_sight[str(row["crop"])] += 1
        elif RAIN_THROUGH[row["cover"]] > 0:
            standing[row["site"], str(row["crop"])].append(row)
    found: list[Matter] = []
    lacking: dict[str | None, int] = defaultdict(int)
    for (site, _), rows in standing.items():
        autumn = frosts[site].autumn
        if autumn is None:
            lacking[site] += len(rows)
        elif today.day >= autumn.on - timedelta(days=_AHEAD_DAYS):
            found.append(_matter(today, rows, autumn, marked))
    unknown = [
        f"{crop}: where {counted(n, 'plant')} in growth {'stands' if n == 1 else 'stand'} is not recorded, so whether "
        f"to lift {'it' if n == 1 else 'them'} before frost is not known." for crop, n in sorted(lost_sight.items())
    ]  # fmt: skip
    unknown += without_frost(
        lacking, frosts, "tender plant", "in the open", "by when they are to be lifted is not known"
    )  # fmt: skip
    return Found(tuple(found), (*unknown, *unseen))


def _unseen(today: Today, frosts: dict[str | None, Frosts]) -> tuple[str, ...]:
    """Tender sowings in the open that nobody saw come up."""
    sown: dict[str, int] = defaultdict(int)
    for row in today.in_state("sown"):
        outside = row["bed"] is not None and RAIN_THROUGH[row["cover"]] > 0
        if outside and _in_the_way(row, today, frosts[row["site"]]) and why_tender(today, row["crop"]) is not None:
            sown[str(row["crop"])] += 1
    return tuple(
        f"{crop}: nothing shows that {counted(n, 'sowing')} in the open came up, so "
        f"{'it is' if n == 1 else 'they are'} left out of the order of lifting." for crop, n in sorted(sown.items())
    )  # fmt: skip


def _in_the_way(row: Row, today: Today, frosts: Frosts) -> bool:
    """Whether a plant is in growth in the autumn half of the year, or came to rest in that half where it stands; in
    growth at all where nobody knows which half it is."""
    if row["crop"] is None or not in_autumn(today, frosts):
        return False
    if frosts.autumn_from is None:
        return bool(row["state"] == "growing")
    return bool(row["state"] != "dormant" or row["state_since"] >= frosts.autumn_from)


def _matter(today: Today, rows: list[Row], autumn: FrostDay, marked: dict[str, str]) -> Matter:
    order = ranked(today, rows, marked)
    beds = beds_of(row["bed"] for row in rows)
    potted = [str(row["label"]) for row in order.rows if row["container"] is not None]
    placed = [f"{row['label']} ({row['bed']})" for row in order.rows]
    return Matter(
        kind="lifting", site=rows[0]["site"], place=beds, labels=tuple(order.labels()), crop=rows[0]["crop"],
        since=autumn.on - timedelta(days=_AHEAD_DAYS), by=autumn.on,
        why=(
            f"{rows[0]['crop']}: {counted(len(rows), 'plant')} in the open, the best keepers first ({order.told()}): "
            f"{listed(placed)}. {autumn.why}; {why_tender(today, rows[0]['crop'])}."
        ),
        do=_to_do(potted, len(potted) < len(rows)),
    )  # fmt: skip


def _to_do(potted: list[str], in_ground: bool) -> str:
    said = []
    if in_ground:
        said.append(
            "Lift in this order, weigh, and write it down (event lifted, column root_g), or what stays under a mulch "
            "(event mulched). A frost that blackens tops leaves roots alive, frozen ground does not (common practice, "
            "no source)."
        )
    if potted:
        said.append(f"Carry in what stands in a pot, {listed(potted)}, and write it down (event stored, place pot).")
    return " ".join(said)
