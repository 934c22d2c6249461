"""Trusses to watch: those being followed this season that nobody has looked at for some days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import days_ago, placed
from perennia.analysis.units import Row
from perennia.checking.words import counted

LOOK_DAYS = 3
"""Days between looks at a truss in flower: common practice, no source."""
_GIVEN_UP_DAYS = 28
"""A truss not looked at for four weeks is taken to be no longer followed: our own choice."""
_SEASON_DAYS = 400
"""Trusses seen longer ago are of no season that runs."""
_BEANS = "a truss of runner beans opens two or three flowers a day from its base up, and is looked at"
_RUNNER_BEAN = "Phaseolus coccineus"
_SEEN = (
    "select plant, truss, event, opened_on, set_on, ended_on, \"end\", opened, dropped, full_size, on_to "
    "from flowering where plant is not null and on_to >= ? order by plant, truss, on_to, record_id"
)


@attrs.frozen
class Truss:
    """A truss that is not over: the last look at it, and what is still to be seen of it in words."""

    name: str
    on: date
    open_: str


def trusses(today: Today) -> Found:
    """One matter a plant: its trusses that wait to be looked at."""
    growing = today.in_state("growing", "sheltered")
    if not growing:
        return Found()
    seen: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in today.rows(_SEEN, today.day - timedelta(days=_SEASON_DAYS)):
        seen[str(row["plant"])][str(row["truss"])].append(row)
    found, given_up = [], 0
    for row in growing:
        own = [_truss(name, rows) for name, rows in seen.get(str(row["plant"]), {}).items()
               if today.in_season(min(rows[-1]["on_to"], today.day), row)]  # fmt: skip
        followed = [truss for truss in own if truss is not None]
        late = [truss for truss in followed if (today.day - truss.on).days >= LOOK_DAYS]
        waiting = [truss for truss in late if (today.day - truss.on).days <= _GIVEN_UP_DAYS]
        given_up += len(late) - len(waiting)
        if waiting:
            found.append(_matter(today, row, waiting))
    return Found(tuple(found), () if not given_up else (
        f"{'1 truss' if given_up == 1 else f'{given_up} trusses'} begun this season and not looked at for over four "
        f"weeks: what became of {'its' if given_up == 1 else 'their'} flowers is not known.",
    ))  # fmt: skip


def _truss(name: str, rows: Sequence[Row]) -> Truss | None:
    """None where nothing is left to be seen: every flower followed to its end, or all counted grown or dropped."""
    fates = [row for row in rows if row["event"] == "flower_fate"]
    counts = [row for row in rows if row["event"] == "truss_count"]
    unended = sum(row["ended_on"] is None and row["end"] is None for row in fates)
    parts = []
    if unended:
        parts.append(f"{counted(unended, 'flower')} without an end written down")
    if counts and not _over(counts[-1]):
        parts.append(_counted_so_far(counts[-1]))
    if not parts:
        return None
    days = [row[name] for row in rows for name in ("opened_on", "set_on", "ended_on") if row[name] is not None]
    return Truss(name, max([*days, *(row["on_to"] for row in counts)]), " and ".join(parts))


def _over(count: Row) -> bool:
    """Whether every flower counted was seen to drop or to grow to full size."""
    if count["opened"] is None or count["dropped"] is None or count["full_size"] is None:
        return False
    return bool(count["opened"] > 0 and count["dropped"] + count["full_size"] >= count["opened"])


def _counted_so_far(count: Row) -> str:
    known = [f"{count[name]} {words}" for name, words in (
        ("opened", "opened"), ("dropped", "dropped"), ("full_size", "grown to full size"),
    ) if count[name] is not None]  # fmt: skip
    return f"last counted {', '.join(known)}" if known else "last counted without its open flowers"


def _matter(today: Today, row: Row, waiting: Sequence[Truss]) -> Matter:
    first = min(truss.on for truss in waiting)
    named = "; ".join(f"truss {truss.name} {days_ago(truss.on, today.day)} ({truss.open_})" for truss in waiting)
    how_often = _BEANS if row["crop"] == _RUNNER_BEAN else "a truss in flower is looked at"
    return Matter(
        kind="trusses", site=row["site"], place=row["bed"], labels=(str(row["label"]),), crop=row["crop"],
        cultivar=row["cultivar"], since=first + timedelta(days=LOOK_DAYS),
        why=(
            f"{row['label']}, {row['crop']} {placed(row['bed'])}, last looked at: {named}; {how_often} every "
            f"{LOOK_DAYS} days (common practice, no source)."
        ),
        do="Look, and count the truss (event truss_count), or write down the end of each flower followed (event "
           "flower_fate).",
    )  # fmt: skip
