"""Store checks: roots in store that nobody has looked at for a while, those with something wrong first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import days_ago, listed
from perennia.analysis.units import Row
from perennia.checking.words import counted

CHECK_DAYS, PROBLEM_DAYS = 30, 7
"""Days between looks at sound roots, and at those last found with something wrong: common practice, no source."""
_LATEST_DAYS = 61
"""After two months `perennia check` asks whether anybody looked."""
_SEEN = (
    'select plant, "on", event, condition, inferred from life '
    "where event in ('lifted', 'stored', 'store_checked') order by plant, ordinal, inferred desc"
)
_WRITTEN = "write down what you saw (event store_checked"
_DO = {
    "rotten": f"Take it out at once, look at those beside it, and {_WRITTEN} or died).",
    "soft": f"Cut out what is soft or take it out, keep it apart, and {_WRITTEN}).",
    "shrivelled": f"Damp what it lies in a little, and {_WRITTEN}).",
    "damaged": f"See whether rot has begun in the wound, and {_WRITTEN}).",
    "sprouting": f"Start it or keep it cooler, and {_WRITTEN}).",
}
_WORST = ("rotten", "soft", "shrivelled", "damaged", "sprouting")


@attrs.frozen
class Look:
    """The last look at a root in store, and what it was found to be if that was written down."""

    row: Row
    on: date
    condition: str | None


def store_checks(today: Today) -> Found:
    """One matter a box and crop, and one a condition that is not sound."""
    stored = today.in_state("stored")
    if not stored:
        return Found()
    seen: dict[str, list[Row]] = defaultdict(list)
    for row in today.rows(_SEEN):
        seen[str(row["plant"])].append(row)
    due: dict[tuple[object, ...], list[Look]] = defaultdict(list)
    for row in stored:
        look = _last_look(row, seen.get(str(row["plant"]), []))
        wrong = look.condition if look.condition in _WORST else None
        if (today.day - look.on).days >= _every(wrong):
            due[row["site"], row["box"], row["crop"], wrong].append(look)
    return Found(tuple(_matter(today, looks, key[-1]) for key, looks in due.items()))


def _last_look(row: Row, seen: Sequence[Row]) -> Look:
    # what was seen before it was lifted is of another rest, also where only what followed shows that it was
    lifted = max((place for place, one in enumerate(seen) if one["event"] == "lifted"), default=0)
    own = [one for one in seen[lifted:] if not one["inferred"]]
    condition = next((one["condition"] for one in reversed(own) if one["condition"] is not None), None)
    return Look(row, max((one["on"] for one in own), default=row["state_since"]), condition)


def _every(wrong: object) -> int:
    """Days after a look from which the next is due; what rots does not wait."""
    return CHECK_DAYS if wrong is None else 0 if wrong == "rotten" else PROBLEM_DAYS


def _matter(today: Today, looks: Sequence[Look], wrong: object) -> Matter:
    row, first = looks[0].row, min(look.on for look in looks)
    labels = tuple(str(look.row["label"]) for look in sorted(looks, key=lambda look: look.on))
    where = "box not recorded" if row["box"] is None else str(row["box"])
    every = _every(wrong)
    found = "" if wrong is None else f" and found {wrong}"
    how_often = (
        f"a look every {counted(every, 'day')} is common practice, no source" if every
        else "rot spreads to what lies beside it"
    )  # fmt: skip
    return Matter(
        kind="store check", site=row["site"], place=row["box"], labels=labels, crop=row["crop"],
        since=first + timedelta(days=every), by=first + timedelta(days=every if wrong else _LATEST_DAYS),
        first=_WORST.index(str(wrong)) if wrong else len(_WORST),
        why=(
            f"{row['crop']} in store ({where}): {listed(labels)} last looked at {days_ago(first, today.day)} "
            f"({first}){found}; {how_often}."
        ),
        do=_DO[str(wrong)] if wrong else f"Look at every root, take out what rots, and {_WRITTEN}).",
    )  # fmt: skip
