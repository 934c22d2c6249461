"""A matter that asks for attention: its kinds, what is told of it, and which comes first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import attrs

from perennia.analysis.name_order import in_order

KINDS = (
    "store check", "lifting", "watering", "picking", "keepers", "trusses", "seed pods", "regrowth", "starting",
    "sowing", "root weight", "box map", "seed lot",
)  # fmt: skip
"""Every kind of matter, what is lost soonest by waiting first: our own order."""
STANDINGS = ("overdue", "now", "ahead")
"""How a matter stands: its last sensible day has passed, its time is now, or its time is near."""
COLUMNS = {
    "urgency": "Int64", "standing": "string", "kind": "string", "site": "string", "place": "string", "labels": "string",
    "plants": "Int64", "crop": "string", "cultivar": "string", "since": "datetime64[s]", "by": "datetime64[s]",
    "why": "string", "do": "string",
}  # fmt: skip
"""Columns of Due.table; one row a matter.

urgency: 1 for the most urgent. standing: overdue (by has passed), ahead (since is still to come) or now. kind: one of
KINDS. place: beds or box, or a seed lot. labels: in the order in which they are to be seen to, with commas between;
missing where the matter is of no living plant. plants: labels in it. since: the day from which it is due, by: the last
day that makes sense, either missing where nothing on record tells it. why: the figures and where they come from. do:
what to do, and what to record so that it goes away.
"""


@attrs.frozen(kw_only=True)
class Matter:
    """One matter; fields as the columns of the table. labels: in the order in which they are to be seen to. first:
    lower ones come before others of the same kind and standing."""

    kind: str
    why: str
    do: str
    site: str | None = None
    place: str | None = None
    labels: tuple[str, ...] = ()
    crop: str | None = None
    cultivar: str | None = None
    since: date | None = None
    by: date | None = None
    first: int = 0

    def standing(self, day: date) -> str:
        """How it stands on a day."""
        if self.by is not None and self.by < day:
            return "overdue"
        return "ahead" if self.since is not None and self.since > day else "now"


@attrs.frozen
class Found:
    """What one kind found: matters, and what could not be judged, a sentence each."""

    matters: tuple[Matter, ...] = ()
    unknown: tuple[str, ...] = ()


def ordered(matters: Iterable[Matter], day: date) -> list[Matter]:
    """The most urgent first: by standing, by kind, by the last day that makes sense, then place and label."""
    return sorted(matters, key=lambda matter: (
        STANDINGS.index(matter.standing(day)), KINDS.index(matter.kind), matter.first, matter.by or date.max,
        matter.since or date.max, in_order(matter.site or ""), in_order(matter.place or ""),
        matter.crop or "", matter.cultivar or "",
        [in_order(label) for label in matter.labels], matter.why,
    ))  # fmt: skip


def row_of(matter: Matter, urgency: int, day: date) -> dict[str, object]:
    """The row of a matter."""
    return {
        "urgency": urgency, "standing": matter.standing(day), "kind": matter.kind, "site": matter.site,
        "place": matter.place, "labels": ", ".join(matter.labels) or None, "plants": len(matter.labels),
        "crop": matter.crop, "cultivar": matter.cultivar, "since": matter.since, "by": matter.by, "why": matter.why,
        "do": matter.do,
    }  # fmt: skip


def told(matter: Matter, day: date) -> str:
    """The matter in a sentence or two."""
    return f"{matter.standing(day).capitalize()}, {matter.kind}: {matter.why} {matter.do}"
